export { HelpPage } from "./page";
