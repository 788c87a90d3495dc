import type { Doubted, Tree } from "../lib/types";
import type { Progress } from "../standing/types";

// What the routes of the fitted bow answer.
export interface Setting { key: string; value: string }
export interface Parameter { key: string; label: string; value: number; sd: number; prior_value: number; prior_sd: number; unit: string; learnt_share: number; prior_source: string }
export interface FitReading { reading?: string; label: string; read: string; fitted: string; off_sd: number }
export interface NextReading { label: string; kind: string; needs: string; minutes: number; settings: Setting[]; distance?: string; expected_drop_ratio: number; why: string }
export interface KeptFit { id: string; setup: string; at: string; readings: number; program: string; current: boolean }
export interface Fit extends Progress {
  setup: string; parameters: Parameter[]; readings: FitReading[]; predictions: Doubted[]; next_readings: NextReading[]; kept: KeptFit[]; warnings: string[]; skipped: string[];
}
export interface Effect { change: Doubted; now: string; then: string; says: string; sure_ratio: number }
export interface WhatIf extends Progress { changes: string[]; effects: Effect[]; in_window: boolean; window_reason: string; height_in_window: boolean; height_window_reason: string; warnings: string[]; settings: Tree }
export interface Route { label: string; changes: string[]; settings: Setting[]; success_ratio: number; say: string; reached: Doubted; reversible: boolean; side_effects: Effect[]; warnings: string[] }
export interface Advice extends Progress { routes: Route[]; withheld: string; notes: string[]; cautions: string[] }
