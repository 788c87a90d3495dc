import type { TrialView } from "../trial/types";
import type { TrialRecord } from "./api";
import type { ShootPlan } from "./types";

// recordOf is what the pages of a shooting trial read of a trial's view.
export function recordOf(v: TrialView): TrialRecord {
  const { id, bow, setup, what, at, plan } = v.trial;
  const felt = v.stops.flatMap((s, i) => (s.readings.some((r) => r.reading.kind === "feel" && !r.corrected_by) ? [i] : []));
  return { trial: { id, bow, setup, what, at, plan: plan as unknown as ShootPlan }, brief: v.brief, events: v.events, felt };
}
