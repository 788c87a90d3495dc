import { lazy } from "../lib/lazy";

export { BowPage } from "./page";
export const NewBowPage = lazy<Record<string, never>>(() => import("./new").then((m) => m.NewBowPage));
export const ChangePage = lazy<{ id: string }>(() => import("./change").then((m) => m.ChangePage));
