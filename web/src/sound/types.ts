import type { Figure } from "../ui/chart";
import type { Measure, Recording as TrialRecording } from "../trial/types";

// The answers of the API about sound. Names are the server's; /openapi.json
// describes them all.

export interface Onset { release_s: number; impact_s: number | null; clicker_s: number | null; why: string }
export interface Mode { frequency: Measure; damping: Measure }
export interface HeardShot extends Onset {
  number: number; auto_release_s: number | null; corrected: boolean; clipped: number; window_s: number; measures: Measure[];
  modes: Mode[]; no_modes_why?: string; stop?: number; arrow?: string; ring?: string; reading?: string;
}
export interface Correction {
  auto_release_s?: number; release_s?: number; impact_s?: number; no_shot?: boolean; no_impact?: boolean; clicker_s?: number; no_clicker?: boolean;
}
export interface Tie { release_s: number; arrow?: string; ring?: string; reading?: string; end?: string; stop?: number }
export interface Onsets { id: string; at: string; recording: string; corrections: Correction[]; ties?: Tie[]; note?: string }
export interface Recording extends TrialRecording { bow?: string; trial?: string; setup?: string; place?: string; auto_gain?: boolean; distance_to_bale?: string }
export interface HeardSound {
  recording: Recording; shots: HeardShot[]; automatic: Onset[]; events: { at_s: number; kind: string; why: string }[]; onsets?: Onsets;
  format: string; sample_rate_hz: number; channels: number; seconds: number; clipped: number; warnings: string[];
}
export interface Waveform { from_s: number; step_s: number; seconds: number; min: number[]; max: number[] }
export interface Spectrogram { from_s: number; step_s: number; step_hz: number; columns: number; rows: number; floor_db: number; db_per_step: number; levels: string }
export interface DecayView { decay_early: Measure; t10: Measure; curved: boolean; figures: Figure[] }

export interface PairMeasure {
  name: string; label: string; unit: string; a: number | null; b: number | null; difference: number | null; low: number | null; high: number | null;
  p: number | null; found: boolean; shots: [number, number]; text: string;
}
export interface Comparison { a: { name: string; shots: number }; b: { name: string; shots: number }; measures: PairMeasure[]; figures: Figure[]; warnings: string[]; playable: boolean }

export interface VoiceShot { recording: string; number: number; release_s: number; arrow?: string; ring?: string; odd: boolean; distance: number | null; p: number | null; furthest?: string; why?: string }
export interface Voice {
  name: string; setup?: string; trial?: string; stop?: number; phone?: string; place?: string; where?: string; distance_to_bale?: string; recordings: string[];
  usual: { label: string; mean: number; sd: number; unit: string; text: string }[]; shots: VoiceShot[];
  arrows: { arrow: string; shots: number; odd: number; rings: string[] }[]; flags: number; chance_flags_per_72: number; smallest_p: number | null; text: string;
}
export interface SignatureView { groups: Voice[]; recordings: number; pending: number; warnings: string[] }
