import type { Doubted, Shown } from "../lib/types";
import type { Figure } from "../ui/chart";

export interface Zone { label: string; points: number; radius_m: number; colour: string }
export interface Face { key: string; name: string; radius_m: number; zones: Zone[] }
export interface Compared { name: string; label: string; now: Doubted; after: Doubted; change: Doubted }
export interface AtDistance { distance: Shown; face: Face; bare: Compared; right: Compared; up: Compared; speed: Compared; drift: Compared }
export interface Telling { in_window: boolean; window_reason: string; window_share_ratio: number; bare_shaft_reads: "weak" | "stiff" | "cannot tell"; bare_shaft_reason: string }

export interface Move {
  name: string; label: string; quantity: string; unit: string; start: number; at: number;
  low: number; high: number; step: number; digits: number; assumed: boolean; text: string;
}

export interface TargetView {
  exact: boolean; plausible_setups: number; fitted: boolean; hand: "right" | "left";
  distances: AtDistance[]; quantities: Compared[]; before: Telling; after: Telling; moves: Move[];
  figures: Figure[]; warnings: string[]; notes: string[]; cautions: string[];
}

export type Hand = TargetView["hand"];
