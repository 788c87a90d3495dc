import type { Place } from "../group/geometry";
import { mapped } from "./circles";
import { inverse, multiply, solve, times, type Mat } from "./matrix";

// OnRing is a place of the picture that lies on the ring of a radius (m).
export interface OnRing extends Place { radius: number }

// Fit is a map from the picture to the face with how well the rings fit it.
export interface Fit {
  map: Mat;
  residual: number; // standard deviation of the ring points from their rings, m
  used: OnRing[]; left: number; // left out because they lie far off: a hole, a crease
}

// free is what the rings determine: eight numbers of a map less the turn.
const free = 7;

// refined moves a map until the points lie on their rings as well as they can
// (least squares in metres on the face, Levenberg and Marquardt); points
// further than four times the usual from their ring are left out.
export function refined(map: Mat, points: OnRing[]): Fit {
  let used = points, now = descend(map, used);
  for (let pass = 0; pass < 3; pass++) {
    const off = points.map((p) => Math.abs(miss(now, p)));
    const limit = 4 * 1.4826 * median(points.map((_, i) => off[i]!)) + 1e-9;
    const next = points.filter((_, i) => off[i]! <= limit);
    if (next.length === used.length || next.length <= free) break;
    used = next;
    now = descend(now, used);
  }
  const sum = used.reduce((s, p) => s + miss(now, p) ** 2, 0);
  return { map: now, residual: Math.sqrt(sum / Math.max(1, used.length - free)), used, left: points.length - used.length };
}

// miss is how far a point lies outside of its ring, m.
const miss = (map: Mat, p: OnRing): number => { const f = mapped(map, p); return Math.hypot(f.x, f.y) - p.radius; };

export function median(of: number[]): number {
  const sorted = [...of].sort((a, b) => a - b);
  return sorted[sorted.length >> 1] ?? 0;
}

// descend works in pixels from the target's centre, scaled, where the last
// number of the map can be 1.
function descend(map: Mat, points: OnRing[]): Mat {
  const c = mapped(inverse(map), { x: 0, y: 0 });
  const far = Math.max(...points.map((p) => Math.hypot(p.x - c.x, p.y - c.y)));
  const into: Mat = [1 / far, 0, -c.x / far, 0, 1 / far, -c.y / far, 0, 0, 1];
  const own = points.map((p) => ({ ...mapped(into, p), radius: p.radius }));
  let h = unit(multiply(map, inverse(into))), damp = 1e-3, cost = costOf(h, own);
  for (let k = 0; k < 60 && damp < 1e9; k++) {
    const next = step(h, own, damp), better = costOf(next, own);
    if (!(better < cost)) { damp *= 10; continue; }
    const done = cost - better < 1e-12 * cost;
    [h, cost, damp] = [next, better, damp / 10];
    if (done) break;
  }
  return multiply(h, into);
}

const unit = (h: Mat): Mat => h.map((v) => v / h[8]!);
const costOf = (h: Mat, points: OnRing[]): number => points.reduce((s, p) => s + miss(h, p) ** 2, 0);

function step(h: Mat, points: OnRing[], damp: number): Mat {
  const a = Array.from({ length: 8 }, () => new Array<number>(8).fill(0)), g = new Array<number>(8).fill(0);
  for (const p of points) {
    const { d, r } = slope(h, p);
    for (let i = 0; i < 8; i++) {
      g[i]! -= d[i]! * r;
      for (let j = 0; j < 8; j++) a[i]![j]! += d[i]! * d[j]!;
    }
  }
  const mean = a.reduce((s, row, i) => s + row[i]!, 0) / 8; // the turn has no slope: damped by the others' size
  a.forEach((row, i) => { row[i]! += damp * (row[i]! + 1e-3 * mean); });
  const more = solve(a, g);
  return h.map((v, i) => v + (more[i] ?? 0));
}

// slope is the derivative of a point's miss by the first eight numbers.
function slope(h: Mat, p: OnRing): { d: number[]; r: number } {
  const [u, v, w] = times(h, [p.x, p.y, 1]), x = u / w, y = v / w, r = Math.hypot(x, y) || 1e-12;
  const q = [p.x / w, p.y / w, 1 / w];
  return { d: [...q.map((c) => (x / r) * c), ...q.map((c) => (y / r) * c), -r * q[0]!, -r * q[1]!], r: r - p.radius };
}

