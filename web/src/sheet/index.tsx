// A sheet: one printed page.
export { SheetPage } from "./page";
