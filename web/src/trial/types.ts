import type { Doubted, Reading, Shown } from "../lib/types";
import type { Figure } from "../ui/chart";

// The answers of the API about trials. Names are the server's; /openapi.json
// describes them all.

export interface PlanStop {
  position: number; number: number; turns_from_previous: number; turns_from_now: number; turns_total: number | null;
  brace_height: Doubted; in_range: "yes" | "no" | "not sure"; settling_shots: number; arrows: number; minutes: number;
  predicted: Doubted[]; changes: Doubted[];
}
export interface Plan {
  low: Shown; high: Shown; span_low: Shown; span_high: Shown; now: Shown; start: string; start_reason: string;
  order: string; order_reason: string; stops: PlanStop[]; beyond: string[]; minutes: number; arrows: number;
  notes: string[]; warnings: string[]; cautions: string[];
}

export interface TrialReading extends Reading {
  bow: string; stop?: number; value: number; corrects?: string; repeat?: number; arrows?: number;
}
// A reading that only this device has yet is marked as such.
export interface StopReading { reading: TrialReading; label: string; shown: string; corrected_by?: string; unsent?: boolean }

export interface Answer { key: string; text: string; turns: number }
export interface Question { text: string; answers: Answer[] }
export interface StopView { plan: PlanStop; state: "todo" | "reached" | "measured"; readings: StopReading[]; question?: Question }

export interface TrialEvent { id: string; what: "reached" | "paused" | "finished" | "abandoned"; stop?: number; at: string }
export interface Tap { stop: number; at_s: number }
export interface Recording {
  id: string; hash: string; bytes: number; name?: string; stop?: number; phone?: string; where?: string; taps?: Tap[]; at: string;
}
export interface TrialView {
  trial: { id: string; bow: string; setup: string; what: string; at: string; plan: KeptPlan };
  brief: { state: string; stop?: number; stops: number };
  plan: Plan; rest?: Plan; stops: StopView[]; events: TrialEvent[]; recordings: Recording[];
}

// KeptPlan is the part of the plan's own record that the pages read.
export interface KeptPlan { curve: { Turns: number; Brace: { value: number; low: number; high: number } }[] }

export interface Measure { name: string; label: string; unit: string; value: number | null; low: number | null; high: number | null; text: string; why?: string }
export interface Shot { number: number; release_s: number; impact_s: number | null; corrected: boolean; why: string; clipped: number; measures: Measure[] }
export interface Listening { shots: Shot[]; format: string; sample_rate_hz: number; seconds: number; clipped: number; warnings: string[] }

export interface Candidate { kind: "lively" | "settled"; stop: number; brace_height: Doubted; evidence: string[] }
export interface Trend {
  measure: string; label: string; unit: string; slope_per_cm: number | null; slope_low: number | null; slope_high: number | null;
  direction: string; shots: number; p: number | null; note?: string; detectable: number | null;
}
export interface Repeat { stop: number; brace_height: Shown; arrows: number; reason: string }
export interface ChoiceView { stop: number; brace_height: Shown; turns_from_now: number; spot?: "lively" | "settled"; changes: Doubted[]; stale: string[] }
export interface Verdict {
  outcome: "spot" | "no_spot" | "repeat" | "difference" | "cannot_tell"; text: string; candidates: Candidate[]; contrasts?: string[]; trends: Trend[]; repeats: Repeat[];
  choices: ChoiceView[]; stops: number; arrows: number; figures: Figure[]; assumptions: string[]; warnings: string[];
  would_change: string[]; inputs: string;
}
export interface KeptVerdict<V = Verdict> { verdict: { id: string; at: string; program: string }; view: V; current: boolean }
