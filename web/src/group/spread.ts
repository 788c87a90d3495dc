import { chiSquare, lnGamma } from "./gamma";
import { isPlaced, type Place } from "./geometry";
import type { Impact, Ranged } from "./types";

// The plain spread, by the notebook's own formulas (group/spread.go, where
// their sources stand), so that the range without a network shows it too.
// web/build holds it to Go's numbers. It leaves out ellipse, score and what
// rings alone tell.

export interface Spread { kind: "fletched" | "bare"; arrows: number; ends: number; sigma: Ranged; ringOnly: number }

// spreadOf is the standard deviation of one axis, both pooled, about each
// end's own centre; null where no end holds two arrows.
export function spreadOf(ends: Place[][]): Ranged {
  let xx = 0, xy = 0, yy = 0, df = 0;
  for (const end of ends) {
    const cx = end.reduce((s, p) => s + p.x / end.length, 0), cy = end.reduce((s, p) => s + p.y / end.length, 0);
    df += end.length - 1;
    for (const p of end) { const x = p.x - cx, y = p.y - cy; xx += x * x; xy += x * y; yy += y * y; }
  }
  if (df < 1) return { value: null, low: null, high: null };
  const s = Math.sqrt((xx + yy) / (2 * df)), nu = isCircle(xx, xy, yy, df) ? 2 * df : ellipseDF(xx / df, xy / df, yy / df, df);
  return { value: s / shrunk(nu), low: s * Math.sqrt(nu / chiSquare(nu, 0.975)), high: s * Math.sqrt(nu / chiSquare(nu, 0.025)) };
}

// isCircle is Mauchly's criterion for two axes at 5 %.
function isCircle(xx: number, xy: number, yy: number, df: number): boolean {
  const ss = xx + yy;
  return df < 2 || ss === 0 || Math.max((4 * (xx * yy - xy * xy)) / (ss * ss), 0) ** ((df - 1) / 2) >= 0.05;
}

// ellipseDF is Satterthwaite's number of degrees of freedom of a group that is
// plainly longer one way: between n (a line) and 2n (a circle).
function ellipseDF(xx: number, xy: number, yy: number, n: number): number {
  const trace2 = (xx + yy) ** 2, square = xx * xx + 2 * xy * xy + yy * yy, det = 1 + 1 / n - 2 / n / n;
  const sigma2 = (square - trace2 / n) / det, sum2 = ((1 + 1 / n) * trace2 - (2 / n) * square) / det;
  return sigma2 > 0 ? n * Math.min(Math.max(sum2 / sigma2, 1), 2) : 2 * n;
}

// shrunk is E(s)/σ of a pooled s with ν degrees of freedom.
const shrunk = (nu: number): number => Math.sqrt(2 / nu) * Math.exp(lnGamma((nu + 1) / 2) - lnGamma(nu / 2));

// spreadsOf sorts arrows by kind: fletched ones and bare shafts apart.
export function spreadsOf(impacts: (Impact & { end: number })[]): Spread[] {
  return (["fletched", "bare"] as const).flatMap((kind) => {
    const mine = impacts.filter((i) => (i.bare ?? false) === (kind === "bare")), placed = mine.filter(isPlaced);
    if (mine.length === 0) return [];
    const byEnd = new Map<number, Place[]>();
    for (const i of placed) byEnd.set(i.end, [...(byEnd.get(i.end) ?? []), { x: i.x_m!, y: i.y_m! }]);
    return [{ kind, arrows: placed.length, ends: byEnd.size, sigma: spreadOf([...byEnd.values()]), ringOnly: mine.length - placed.length }];
  });
}
