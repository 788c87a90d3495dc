// The answers of the API about trials that are judged by where arrows hit, or
// by feel. Names are the server's; /openapi.json describes them all.

export type What = "bare shaft" | "walk-back" | "two set-ups" | "sham" | "one setting" | "settings" | "confirm" | "nocking point by bare shaft" | "tiller by hold and group";

// Ask is what a person decides of a trial; what is left out takes its default.
export interface Ask {
  what: What; setting?: string; a?: string; b?: string; levels?: string[]; settings?: { setting: string; low: string; high: string }[];
  face_centred?: boolean; centres?: number; rounds?: number; arrows?: number; arrow_minutes?: number; bare_shafts?: number; taped?: boolean; bare_low?: boolean;
  distance?: string; distances?: string[]; reduction_seen?: number; seed?: number;
}

export interface Step {
  position: number; block: number; label: string; set: string; shoot: string; changed: boolean; settling_shots: number; arrows: number;
  distance_m?: number; coded?: number[]; minutes: number;
}

export interface ShootPlan {
  what: What; kind: string; ask: Ask; title: string; arrows_needed: string; steps: Step[]; arrows: number; minutes: number;
  why: string; can_see: string; record: string; hidden?: boolean; warnings: string[]; cautions: string[];
}

// ShootView is a trial as its pages need it.
export interface ShootView {
  id: string; bow: string; setup: string; what: What; state: string; left?: string; plan: ShootPlan;
}
