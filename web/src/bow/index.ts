import { lazy } from "../lib/lazy";

export { BowPage } from "./page";
export { NewBowPage } from "./new";
export const ChangePage = lazy<{ id: string }>(() => import("./change").then((m) => m.ChangePage));
