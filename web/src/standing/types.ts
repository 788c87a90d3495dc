import type { Figure } from "../ui/chart";

// What the routes of standing, ledger, upkeep, comparison and explanation
// answer.
export interface Progress { state: "computing" | "done" | "failed"; share: number; why?: string }

export type State = "fresh" | "drifted" | "stale";

export interface Cause { entry: string; label: string; before?: string; after?: string; put_back?: boolean; moved?: string; floor?: string; unknown?: boolean }
export interface Ruling { id: string; counts: boolean; reason: string; at: string }
export interface Standing {
  id: string; noun: string; label: string; quantity: string; setup: string; at: string; state: State; computed: State; sentence: string;
  value: string; own: string; own_from: string; moved?: string; likely?: string; at_most?: string; causes: Cause[];
  superseded_by?: string; now_set_to?: string; ruling?: Ruling;
}
export type StepState = State | "todo" | "noted";
export interface Step { key: string; label: string; state: StepState; text: string; after: string[]; result?: string; do?: string }
export interface Work { steps: Step[]; now?: string; next: string }
export interface Standings extends Progress { standings: Standing[]; basis?: string; work?: Work }

export interface LedgerRow {
  id: string; label: string; setup: string; from?: string; sealed_at: string; forecast: string; band: string; got?: string; read_at?: string; inside: boolean; off_sd: number; fitted: boolean;
}
export interface Ledger {
  text: string; counted: number; inside: number; level: number; share_low: number; share_high: number; entries: LedgerRow[]; waiting: LedgerRow[]; widened: { label: string; factor: number }[];
}

export interface CheckChart {
  kind: string; label: string; state: "in control" | "shifted" | "drifting" | "too few readings"; text: string; readings: number; last?: string; centre?: string; limits?: string;
  scatter?: string; provisional?: boolean; figure?: Figure;
}
export interface Upkeep {
  charts: CheckChart[]; creep: { what: string; text: string }; string: { since?: string; shots: number; said: number; text: string }; arrows: { arrow: string; shots: number; bare?: number; last_shot_at: string }[];
}

export interface Side { setup: string; bow: string; name: string; reason: string; at: string }
export interface Row { quantity: string; label: string; first: string; second: string; apart: string; sure: boolean }
export interface Differs { key: string; label: string; first: string; second: string }
export interface Together { first: Side; second: Side; same_bow: boolean; differences: Differs[]; rows: Row[]; marks: { distance: string; moves: string }[]; notes: string[] }
export interface Transfer extends Progress { spare: Side; changes: Differs[]; set: Record<string, string>; before: Row[]; after: Row[]; unmatched: string[]; notes: string[]; cautions: string[] }

export interface Topic { key: string; title: string; text: string; figure?: Figure; why?: string }
export interface Explanation extends Progress { topics: Topic[]; notes: string[]; cautions: string[] }
