import type { Comparison, Ranged } from "../group/types";
import { api, post } from "../lib/http";
import { notIn } from "../lib/outbox";
import type { TrialEvent, TrialReading } from "../trial/types";
import type { Ask, ShootPlan, ShootView } from "./types";

// askPlan plans a trial; nothing is stored.
export const askPlan = (setup: string, ask: Ask, signal: AbortSignal): Promise<ShootPlan> => post<ShootPlan>(`${api}/trials/plan`, { setup, ask }, signal);

export const trialPath = (id: string): string => `${api}/trials/${id}`;

export interface Effect extends Ranged { name: string; label: string; unit: string; text: string }

// Verdict is a shooting trial's answer; comparison is there for pairs, curve
// for one setting.
export interface Verdict {
  what: string; outcome: string; decided: boolean; text: string; arrows_more: number | null; steps_shot: number; steps_planned: number; n_arrows: number; next: string;
  effects: Effect[]; curve: { at: number; label: string; sigma_m: Ranged }[]; assumptions: string[]; warnings: string[]; would_change: string[]; cautions: string[];
  inputs: string; comparison: Comparison | null;
}

export const askVerdict = (id: string, signal: AbortSignal): Promise<Verdict> => post<Verdict>(`${api}/trials/${id}/verdict`, {}, signal);

// TrialRecord is the part of a trial's view that these pages read.
export interface TrialRecord {
  trial: { id: string; bow: string; setup: string; what: string; at: string; plan: ShootPlan };
  brief: { state: string; stop?: number; stops: number }; events: TrialEvent[]; felt: number[];
}

export function viewOf({ trial, brief, events }: TrialRecord): ShootView {
  return { id: trial.id, bow: trial.bow, setup: trial.setup, what: trial.plan.what, state: brief.state, left: events.at(-1)?.at, plan: trial.plan };
}

// waitingFeels are the stops whose feel was noted on this device.
export function waitingFeels(trial: string): number[] {
  return notIn().flatMap((w) => {
    const body = w.body as Partial<TrialReading>;
    return w.path.includes("/readings/") && body.trial === trial && body.kind === "feel" && body.stop !== undefined ? [body.stop] : [];
  });
}
