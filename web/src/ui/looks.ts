import type { Series } from "./chart";

// How series are told apart without colour: curves by the dash of their line,
// points by their shape. The notebook says both with the figure
// (internal/figure/look.go); here is how they are drawn, the same on charts, on
// sheets and in their legends, and the same rule for what this page draws of
// its own.

export type Dash = "solid" | "dashed" | "dotted" | "dash-dot" | "long" | "dash-dot-dot";
export type Shape = "disc" | "square" | "triangle" | "diamond" | "ring" | "cross" | "plus" | "box";

const dashes: Dash[] = ["solid", "dashed", "dotted", "dash-dot", "long", "dash-dot-dot"];
const shapes: Shape[] = ["disc", "square", "triangle", "diamond", "ring", "cross", "plus", "box"];

// broken are the lengths of stroke and gap, in widths of the line.
const broken: Record<Dash, number[]> = { solid: [], dashed: [4, 2.5], dotted: [0.9, 2], "dash-dot": [4.5, 2, 0.9, 2], long: [9, 3], "dash-dot-dot": [4.5, 1.8, 0.9, 1.8, 0.9, 1.8] };

export interface Look { dash?: Dash; shape?: Shape }

// looks gives every series of a figure its own: what the notebook said, else
// the first that is free.
export function looks(series: Pick<Series, "kind" | "dashed" | "dash" | "shape">[]): Look[] {
  const name = (l: Look) => `${l.dash ?? ""} ${l.shape ?? ""}`;
  const taken = new Set(series.filter((s) => s.dash || s.shape).map(name));
  return series.map((s) => {
    if (s.dash || s.shape) return { dash: s.dash, shape: s.shape };
    const all = looksOf(s), free = all.find((l) => !taken.has(name(l))) ?? all[0]!;
    taken.add(name(free));
    return free;
  });
}

function looksOf(s: Pick<Series, "kind" | "dashed">): Look[] {
  if (s.kind === "points") return shapes.map((shape) => ({ shape }));
  const order = s.dashed ? [...dashes.slice(1), dashes[0]!] : dashes;
  return [undefined, ...shapes].flatMap((shape) => order.map((dash) => ({ dash, shape })));
}

// dashOf gives a dash for a line of that width, in its unit.
export const dashOf = (look: Look, width: number): number[] => broken[look.dash ?? "solid"].map((n) => n * width);

// colourOf is a series' colour: six of them, told apart by every colour sight.
export const colourOf = (i: number): string => `--line-${(i % 6) + 1}`;

const hollow: Shape[] = ["ring", "cross", "plus", "box"];
export const isHollow = (look: Look): boolean => look.shape !== undefined && hollow.includes(look.shape);

// outline is a shape's path about a place, r its half width.
export function outline(shape: Shape, x: number, y: number, r: number): string {
  const at = (dx: number, dy: number) => `${(x + dx * r).toFixed(2)} ${(y + dy * r).toFixed(2)}`;
  switch (shape) {
    case "square": case "box": return `M${at(-0.88, -0.88)}L${at(0.88, -0.88)}L${at(0.88, 0.88)}L${at(-0.88, 0.88)}Z`;
    case "triangle": return `M${at(0, -1.15)}L${at(1.05, 0.8)}L${at(-1.05, 0.8)}Z`;
    case "diamond": return `M${at(0, -1.25)}L${at(1.25, 0)}L${at(0, 1.25)}L${at(-1.25, 0)}Z`;
    case "cross": return `M${at(-0.9, -0.9)}L${at(0.9, 0.9)}M${at(0.9, -0.9)}L${at(-0.9, 0.9)}`;
    case "plus": return `M${at(-1.2, 0)}L${at(1.2, 0)}M${at(0, -1.2)}L${at(0, 1.2)}`;
    default: return `M${at(-1, 0)}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`; // disc, ring
  }
}
