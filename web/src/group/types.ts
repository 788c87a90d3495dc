import type { Doubted } from "../lib/types";
import type { Figure } from "../ui/chart";

// What the API says about ends, faces and groups. Names are the server's;
// /openapi.json describes them all.

// Zone is one scoring zone: everything inside the radius that is not in a
// smaller zone. The line belongs to it.
export interface Zone { radius_m: number; points: number; label: string; colour: string }
export interface Face { key: string; name: string; zones: Zone[]; spots: number; line_rule: string }

// Impact is one arrow of an end: a place on the face, right and up as seen
// from the shooting line, or only the ring that was called.
export interface Impact { arrow?: string; x_m?: number; y_m?: number; ring?: string; bare?: boolean; at?: string }

export interface End {
  id: string; at: string; bow: string; setup: string; session?: string; trial?: string; stop?: number;
  number?: number; distance?: string; face?: string; impacts: Impact[]; corrects?: string; note?: string;
}

// EndView is an end as the notebook lists it, scored on its face.
export interface EndView { end: End; distance: string; distance_m: number | null; rings: string[]; points: number | null; corrected_by?: string }

// Ranged is a number with its 95 % interval; null where there is none to give.
export interface Ranged { value: number | null; low: number | null; high: number | null }

export interface Offset { arrow: string; n_shots: number; x_m: number; y_m: number; radius_m: number | null; p: number | null; flies_out: boolean }
export interface Odd { end_id?: string; end: number; index: number; arrow?: string; x_m: number; y_m: number; radius_m: number; p: number }

interface Ellipse { x_m: number | null; y_m: number | null; major_m: number | null; minor_m: number | null; angle_deg: number | null; circle_p: number | null }

// Group is what the arrows of one set-up, distance and kind tell.
export interface Group {
  setup?: string; label?: string; kind: "fletched" | "bare"; distance_m: number | null; face: string; n_arrows: number; ends: number; n_ring_only: number; n_missed: number;
  sigma_m: Ranged; sigma_x_m: Ranged; sigma_y_m: Ranged; degrees_of_freedom: number | null; centre_m: { x: Ranged; y: Ranged; by_ends: boolean };
  ellipse: Ellipse;
  // Of all arrows, the ends' own centres scattering too; an answer kept on the device from before lacks both.
  sigma_long_run_m?: Ranged; ellipse_long_run?: Ellipse;
  extreme_spread_m: number | null; extreme_spread_expected_m: number | null; mean_radius_m: number | null; mean_radius_expected_m: number | null;
  r50_m: number | null; r90_m: number | null;
  score: { face: string; shaft_m: number; per_arrow: Ranged; per_arrow_centred: Ranged; best: number } | null;
  rings: { n_arrows: number; sigma_m: Ranged; offset_m: Ranged; information_kept: number | null; warnings: string[] } | null;
  outliers: Odd[]; arrow_offsets: Offset[]; sentences: string[]; can_see: string; assumptions: string[]; warnings: string[];
  shown: Doubted[];
}

export type Winner = "A tighter" | "B tighter" | "cannot tell yet";

export interface Comparison {
  verdict: Winner; text: string; sigma_ratio: Ranged; p_value: number | null; evidence: number | null; arrows_needed: number | null; arrows_more: number | null;
  n_arrows_a: number; n_arrows_b: number; pairs?: number; sigma_ratio_f: Ranged; probability_a_tighter: number | null; method: string; can_see: string;
  assumptions: string[]; warnings: string[]; would_change: string[];
  history: { pairs: number; evidence: number; sigma_ratio: Ranged }[];
}
export interface Compared { a: Group; b: Group; comparison: Comparison; figures: Figure[] }
