import { lazy } from "../lib/lazy";
import "./target.css";

// From the string to the target, each page loaded when first opened.
export const TargetPage = lazy<{ id: string }>(() => import("./page").then((m) => m.TargetPage));
export const HeightsPage = lazy<{ id: string }>(() => import("./heights").then((m) => m.HeightsPage));
export const MarksPage = lazy<{ id: string }>(() => import("./marks").then((m) => m.MarksPage));
export const ShaftsPage = lazy<{ id: string }>(() => import("./shafts").then((m) => m.ShaftsPage));
export const ForgivenessPage = lazy<{ id: string }>(() => import("./forgiveness").then((m) => m.ForgivenessPage));
