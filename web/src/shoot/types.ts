// What the pages of shooting trials need to know of a plan, whatever its kind.

export interface Step {
  position: number; block: number; label: string; short: string; order: string; // what to do, as a title
  note?: string; settling: number; arrows: number; minutes: number; setup: string; distance?: string; face?: string; bare?: boolean;
}

export interface ShootPlan {
  kind: string; steps: Step[]; minutes: number; arrows: number; why: string; canSee: string; blockName: string; warnings: string[]; cautions: string[];
}

export interface ShootView { id: string; bow: string; what: string; state: string; paused?: string; distance: string; face: string; plan: ShootPlan }
