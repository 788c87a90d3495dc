import type { ShownEnd } from "../group/ends";
import { isPlaced } from "../group/geometry";
import type { Comparison } from "../group/types";
import { enough } from "../trial/pairs";
import type { Figure } from "../ui/chart";
import type { Verdict } from "./api";
import type { ShootPlan } from "./types";

// The pictures of a verdict, as the chart draws them: everything in them
// stands in the verdict or in the ends.

export function figuresOf(v: Verdict, plan: ShootPlan, ends: ShownEnd[]): Figure[] {
  const out: Figure[] = [];
  if (v.comparison && v.comparison.history.length > 1) out.push(way(v.comparison), evidence(v.comparison));
  if (v.curve.length > 1) out.push(curve(v));
  if (plan.kind === "walk_back" && ends.length > 1) out.push(walk(v, plan, ends));
  return out;
}

// way is the ratio after each pair, with what was still possible then.
function way(c: Comparison): Figure {
  const x = c.history.map((h) => h.pairs);
  return {
    title: "spread of A over spread of B, pair by pair", finding: c.text,
    x: { label: "pairs of ends", unit: "", digits: 0 }, y: { label: "spread of A over B", unit: "", digits: 2 },
    series: [
      { name: "no difference", kind: "curve", dashed: true, x: [x[0]!, x.at(-1)!], y: [1, 1] },
      { name: "A over B", kind: "points", x, y: c.history.map((h) => h.sigma_ratio.value), low: c.history.map((h) => h.sigma_ratio.low), high: c.history.map((h) => h.sigma_ratio.high) },
    ],
    note: "Bars hold the ratios that are still possible, whenever one looks.",
  };
}

function evidence(c: Comparison): Figure {
  const x = c.history.map((h) => h.pairs);
  return {
    title: "evidence against equal spreads", finding: `After ${x.length} pairs the evidence is ${c.history.at(-1)!.evidence.toFixed(1)}; ${enough} decides.`,
    x: { label: "pairs of ends", unit: "", digits: 0 }, y: { label: "evidence", unit: "", digits: 1 },
    series: [{ name: `decides: ${enough}`, kind: "curve", dashed: true, x: [x[0]!, x.at(-1)!], y: [enough, enough] }, { name: "evidence", kind: "points", x, y: c.history.map((h) => h.evidence) }],
    note: "1 is none. Looking after every pair, and stopping when it is enough, does not spoil it.",
  };
}

// curve is the spread at each level; the levels' own unit stands behind their
// number.
function curve(v: Verdict): Figure {
  const unit = (v.curve[0]!.label.match(/[^\d.,\s−+-].*$/)?.[0] ?? "").trim();
  const cm = (m: number | null) => (m === null ? null : m * 100);
  return {
    title: "spread at each level", finding: v.text,
    x: { label: "setting", unit, digits: 1 }, y: { label: "spread of one axis", unit: "cm", digits: 1 },
    series: [{
      name: "measured", kind: "points", x: v.curve.map((p) => parseFloat(p.label.replace("−", "-").replace(",", "."))),
      y: v.curve.map((p) => cm(p.sigma_m.value)), low: v.curve.map((p) => cm(p.sigma_m.low)), high: v.curve.map((p) => cm(p.sigma_m.high)),
    }],
    note: "Bars are 95 % intervals.",
  };
}

// walk is where the arrows of each distance hit, sideways, and the line
// through them.
function walk(v: Verdict, plan: ShootPlan, ends: ShownEnd[]): Figure {
  const at = new Map<number, number[]>();
  for (const { end } of ends) {
    const far = plan.steps[end.stop ?? 0]?.distance_m ?? 0;
    for (const i of end.impacts) if (isPlaced(i) && !i.bare) at.set(far, [...(at.get(far) ?? []), 100 * i.x_m]);
  }
  const x = [...at.keys()].sort((a, b) => a - b), each = x.map((d) => at.get(d)!);
  const slant = v.effects.find((e) => e.name === "slant")?.value, offset = v.effects.find((e) => e.name === "offset")?.value;
  const span = [x[0]!, x.at(-1)!];
  const line = slant == null || offset == null ? [] : [{ name: "line through them", kind: "curve" as const, x: span, y: span.map((d) => 100 * (offset + slant * d)) }];
  return {
    title: "sideways from the mark's vertical line", finding: v.text,
    x: { label: "distance", unit: "m", digits: 0 }, y: { label: "right positive", unit: "cm", digits: 1 },
    series: [
      { name: "mean of the arrows", kind: "points", x, y: each.map((l) => l.reduce((a, b) => a + b, 0) / l.length), low: each.map((l) => Math.min(...l)), high: each.map((l) => Math.max(...l)) },
      ...line, { name: "upright", kind: "curve", dashed: true, x: span, y: [0, 0] },
    ],
    note: "Bars reach from the leftmost to the rightmost arrow; they are no interval.",
  };
}
