export { RoundPage } from "./page";
export { RoundsPage } from "./list";
