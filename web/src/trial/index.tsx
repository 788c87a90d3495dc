import { lazy } from "../lib/lazy";
import "./trial.css";

// The pages of trials are loaded when first opened; the service worker keeps
// them for the range.
export const PlanPage = lazy<{ bowId: string }>(() => import("./plan").then((m) => m.PlanPage));
export const TrialPage = lazy<{ id: string }>(() => import("./trial").then((m) => m.TrialPage));
