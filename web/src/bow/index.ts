export { BowPage } from "./page";
export { ChangePage } from "./change";
export { NewBowPage } from "./new";
