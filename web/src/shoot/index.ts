import { lazy } from "../lib/lazy";
import type { TrialRecord } from "./api";

// The pages of shooting trials are loaded when first opened.
export const NewTrialPage = lazy<{ bowId: string }>(() => import("./new").then((m) => m.NewTrialPage));
export const ShootTrial = lazy<{ record: TrialRecord; again: () => void }>(() => import("./trial").then((m) => m.ShootTrial));
