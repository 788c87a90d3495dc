import type { Place } from "../group/geometry";
import { cross, determinant, inverse, leastVector, multiply, norm, times, transposed, type Mat, type Vec } from "./matrix";

// Two concentric circles seen in perspective fix the plane up to a turn
// (Kim, Gurdjos & Kweon, PAMI 2005). The centre of a ring's ellipse in the
// picture is not the picture of the target's centre; the pair of ellipses has
// it. What is left out: a lens that bends straight lines.

// PhotoProblem is why a picture cannot be used, in words for the archer.
export class PhotoProblem extends Error {}

// fitConic is the ellipse through five or more points of the picture: the
// least algebraic distance in normalised coordinates (Hartley & Zisserman,
// ch. 4, recalled). The symmetric matrix C of pᵀCp = 0.
export function fitConic(points: Place[]): Mat {
  if (points.length < 5) throw new PhotoProblem(`A ring needs five points or more; there are ${points.length}.`);
  const t = normaliser(points);
  const s = Array.from({ length: 6 }, () => new Array<number>(6).fill(0));
  for (const p of points) {
    const [x, y] = times(t, [p.x, p.y, 1]), d = [x * x, x * y, y * y, x, y, 1];
    for (let i = 0; i < 6; i++) for (let j = 0; j < 6; j++) s[i]![j]! += d[i]! * d[j]!;
  }
  const [a, b, c, d, e, f] = leastVector(s) as [number, number, number, number, number, number];
  if (!(4 * a * c - b * b > 1e-9)) throw new PhotoProblem("The points of a ring do not lie on an ellipse. Mark them all round the ring, on its line.");
  return multiply(transposed(t), multiply([a, b / 2, d / 2, b / 2, c, e / 2, d / 2, e / 2, f], t));
}

// normaliser moves points to their middle, √2 away in the mean.
function normaliser(points: Place[]): Mat {
  const n = points.length, x = points.reduce((s, p) => s + p.x, 0) / n, y = points.reduce((s, p) => s + p.y, 0) / n;
  const far = points.reduce((s, p) => s + Math.hypot(p.x - x, p.y - y), 0) / n;
  if (!(far > 0)) throw new PhotoProblem("All points of a ring lie on one place.");
  const k = Math.SQRT2 / far;
  return [k, 0, -k * x, 0, k, -k * y, 0, 0, 1];
}

// Common is what two concentric circles have in common in the picture: their
// centre, and the line of the plane's far points (scaled to a last number
// of 1).
export interface Common { centre: Place; vanishing: Vec }

export function commonOf(inner: Mat, outer: Mat): Common {
  const m = multiply(inverse(inner), outer);
  const lambda = simpleRoot(m);
  const rows: Vec[] = [0, 3, 6].map((i) => [m[i]!, m[i + 1]!, m[i + 2]!]);
  rows.forEach((r, i) => { r[i]! -= lambda; });
  const normals = [cross(rows[0]!, rows[1]!), cross(rows[1]!, rows[2]!), cross(rows[2]!, rows[0]!)];
  const v = normals.reduce((a, b) => (norm(b) > norm(a) ? b : a));
  const centre = { x: v[0] / v[2], y: v[1] / v[2] };
  const lines = [inner, outer].map((c) => atOne(times(c, [centre.x, centre.y, 1]), centre));
  const mean = lines[0]!.map((n, i) => (n + lines[1]![i]!) / 2);
  if (![...mean, centre.x, centre.y].every(Number.isFinite)) throw new PhotoProblem("These two rings do not belong to one target. Mark two different rings.");
  return { centre, vanishing: mean.map((n) => n / mean[2]!) as Vec };
}

// atOne scales a line so that the centre is at distance 1 from it.
const atOne = (l: Vec, c: Place): Vec => l.map((n) => n / (l[0] * c.x + l[1] * c.y + l[2])) as Vec;

// simpleRoot is the eigenvalue that stands apart; the other two are equal up
// to noise, and may be a complex pair then.
function simpleRoot(m: Mat): number {
  const tr = m[0]! + m[4]! + m[8]!, mean = tr / 3;
  const minors = m[0]! * m[4]! - m[1]! * m[3]! + m[0]! * m[8]! - m[2]! * m[6]! + m[4]! * m[8]! - m[5]! * m[7]!;
  const p = minors - (tr * tr) / 3, q = -determinant(m) + minors * mean - 2 * mean ** 3;
  let t = (3 * q) / p; // t³ + pt + q with a double root has its simple root here
  for (let k = 0; k < 20; k++) t -= (t ** 3 + p * t + q) / (3 * t * t + p);
  if (!Number.isFinite(t)) throw new PhotoProblem("These two rings lie on one another. Mark two different rings.");
  return mean + t;
}

// rectifier maps the picture (pixels, y down) to the face (metres, x right,
// y up, some turn left open): the vanishing line goes to infinity, then the
// outer ring becomes a circle of its radius.
export function rectifier(inner: Mat, outer: Mat, radius: number): Mat {
  const { centre, vanishing: l } = commonOf(inner, outer);
  const away = l[0] * centre.x + l[1] * centre.y + l[2];
  const flat = multiply([1, 0, 0, 0, 1, 0, l[0] / away, l[1] / away, 1], [1, 0, -centre.x, 0, 1, -centre.y, 0, 0, 1]);
  // Moved to the centre, l becomes (l0, l1, away): scaled by away it leaves the centre at the origin.
  const back = inverse(flat), c = multiply(transposed(back), multiply(outer, back));
  const sign = -Math.sign(c[8]!), k = Math.abs(c[8]!);
  const a = (sign * c[0]!) / k, b = (sign * c[1]!) / k, d = (sign * c[4]!) / k;
  if (!(a > 0 && a * d - b * b > 0)) throw new PhotoProblem("The rings found do not make a target. Mark them again, all round.");
  const u = Math.sqrt(a), v = b / u, w = Math.sqrt(d - v * v);
  return multiply([radius * u, radius * v, 0, 0, -radius * w, 0, 0, 0, 1], flat);
}

// mapped is where a place goes.
export function mapped(h: Mat, p: Place): Place {
  const [x, y, w] = times(h, [p.x, p.y, 1]);
  return { x: x / w, y: y / w };
}

// upright turns a map so that the mark lies straight above the centre.
export function upright(h: Mat, mark: Place): Mat {
  const { x, y } = mapped(h, mark), r = Math.hypot(x, y);
  if (!(r > 0)) throw new PhotoProblem("The mark for upright lies on the middle. Tap a place well above it.");
  return multiply([y / r, -x / r, 0, x / r, y / r, 0, 0, 0, 1], h);
}
