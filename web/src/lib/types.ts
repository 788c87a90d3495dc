// The answers of the API that the bench, bow and settings pages read. Names
// are the server's; /openapi.json describes them all.

export interface Shown { si: number; unit: string; text: string }

export interface Doubted {
  name: string; label: string; si: number | null; low: number | null; high: number | null;
  unit: string; text: string; doubt: string;
}

export interface Person { id: string; name: string; hand: "right" | "left"; units: Units; decimal_comma?: boolean; theme?: Theme; version: number }
export type Units = "metric" | "imperial" | "mixed";
export type Theme = "" | "light" | "dark" | "sun";
export interface Me { person: Person; tag: string; unit_symbols: Record<string, string> }

export interface Bow { id: string; name: string; style: "recurve" | "barebow"; notes?: string; archived?: boolean; growing?: boolean; version: number; at: string; owner?: string }
export interface Difference { key: string; before: string; after: string }

// Settings is a tree of texts as typed; fields.ts knows every entry.
export type Tree = { [name: string]: unknown };

export interface SetUp { id: string; bow: string; parent?: string; settles?: string[]; reason: string; at: string; settings: Tree }
// unsent: on this device only; its quantities are then shown as typed.
export interface SetUpView { setup: SetUp; shown: Record<string, Shown>; changes?: Difference[]; unsent?: boolean }

// Fork is where people changed the same set-up without knowing of each other.
export interface ForkSide { setup: string; by: string; by_name?: string; at: string; received: string; reason: string; changes: Difference[] }
export interface Fork { base?: string; sides: ForkSide[]; merged?: Tree; clashes: { key: string; label: string; texts: string[] }[]; ask: string }

export interface Brace {
  state: "inside" | "below" | "above" | "no-range" | "no-reading"; text: string; measured?: boolean;
  pivot?: Shown; compared?: Shown; low?: Shown; high?: Shown;
}
export interface TrialBrief { id: string; what: string; state: string; stop?: number; stops: number; at: string }
export interface NextStep { code: string; text: string }
export interface Session { id: string; at: string; place?: string; air?: string; note?: string }

// tag names the version of the bow itself, for a change of it.
export interface BowView {
  bow: Bow; tag: string; setup?: SetUpView; setups: number; brace: Brace; last_session?: Session; last_reading_at?: string;
  open_trial?: TrialBrief; last_trial?: TrialBrief; next: NextStep; demo?: boolean; fork?: Fork; hand?: "right" | "left"; archer?: string; // of its archer; absent from what an older program answered
}
export interface BenchView { bows: BowView[]; first?: NextStep }
export interface DemoView { offered: boolean; loaded: boolean; bows?: string[] }

export interface StopView { brace_height: Shown; predicted: Doubted[]; changes?: Doubted[]; energy_audit_ratio: number }
export interface Preview extends StopView { plausible_bows: number; fitted: boolean; notes: string[]; cautions: string[] }

export interface FieldError { field: string; code: string; message: string; hint?: string }
export interface CheckView {
  ok: boolean; errors: FieldError[]; shown: Record<string, Shown>; changes: Difference[];
  brace?: Brace; preview?: Preview; no_preview?: string;
}

export interface ParsedText extends Shown { typed_unit: string; full: string; both?: string; question?: string }

export interface Reading { id: string; setup: string; kind: string; text: string; edge?: string; note?: string; at: string; trial?: string; distance?: string }
export interface ReadingView { reading: Reading; label: string; shown: string; corrected_by?: string }
export interface Rows<T> { rows: T[]; next?: string }
