import { lazy } from "../lib/lazy";
import "./group.css";

// The pages of groups are loaded when first opened.
export const PlotPage = lazy<{ bowId: string }>(() => import("./plot").then((m) => m.PlotPage));
export const GroupsPage = lazy<{ bowId: string }>(() => import("./groups").then((m) => m.GroupsPage));
export const TablesPage = lazy<{ bowId: string }>(() => import("./tables").then((m) => m.TablesPage));
