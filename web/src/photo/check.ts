import type { Place } from "../group/geometry";
import { commonOf, fitConic, mapped, rectifier, upright } from "./circles";
import { inverse, multiply, type Mat } from "./matrix";
import { median, refined } from "./refine";
import { findRings } from "./rings";
import { camera, picture, seeded, zones122 } from "./synthetic";

// What the tests of this folder measure; web/build/photo_test.go runs it and
// judges the numbers.

// exact is the example of ../shared/reference/groups.md, section G12.
function exact() {
  const h: Mat = [9.5, 0.6, 1200, -0.4, -10.2, 980, 0.0008, -0.0006, 1];
  const ring = (r: number, n: number): Place[] => Array.from({ length: n }, (_, k) => mapped(h, { x: r * Math.cos(0.3 + (2 * Math.PI * k) / n), y: r * Math.sin(0.3 + (2 * Math.PI * k) / n) }));
  const inner = fitConic(ring(30.5, 5)), outer = fitConic(ring(61, 7));
  const common = commonOf(inner, outer);
  const map = upright(rectifier(inner, outer, 61), mapped(h, { x: 0, y: 61 }));
  const middle = (c: Mat): Place => { const [a, b, d, e, f] = [c[0]!, c[1]!, c[2]!, c[4]!, c[5]!], det = a * e - b * b; return { x: (b * f - e * d) / det, y: (b * d - a * f) / det }; };
  return {
    centre: common.centre, vanishing: common.vanishing, middle61: middle(outer), middle30: middle(inner),
    back: [{ x: 1500, y: 700 }, { x: 1000, y: 1200 }, { x: 718.4562, y: 417.8876 }, { x: 1605.7675, y: 1453.6576 }].map((p) => mapped(map, p)),
  };
}

// pictures rectifies seeded pictures and gives how far each hole, marked at
// its place rounded to the pixel, lies off in metres.
function pictures(count: number) {
  const off: number[] = [], residuals: number[] = [], tilts: number[] = [];
  for (let n = 0; n < count; n++) {
    const rng = seeded(100 + n), tilt = 10 + (30 * n) / Math.max(1, count - 1), h = camera(rng, tilt);
    const holes = Array.from({ length: 6 }, () => { const r = 0.6 * Math.sqrt(rng()), a = 2 * Math.PI * rng(); return { x: r * Math.cos(a), y: r * Math.sin(a) }; });
    const pixels = picture(h, holes, rng), whole = (p: Place): Place => { const q = mapped(h, p); return { x: Math.round(q.x), y: Math.round(q.y) }; };
    const tap = whole({ x: 0.03 * (rng() - 0.5), y: 0.03 * (rng() - 0.5) });
    const fit = findRings(pixels, tap, zones122), map = upright(fit.map, whole({ x: 0, y: 0.6 }));
    for (const at of holes) { const p = mapped(map, whole(at)); off.push(Math.hypot(p.x - at.x, p.y - at.y)); }
    residuals.push(fit.residual);
    tilts.push(tilt);
  }
  const sorted = [...off].sort((a, b) => a - b), share = (q: number) => sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))]!;
  return { count, holes: off.length, median: share(0.5), p95: share(0.95), worst: sorted.at(-1)!, far: sorted.filter((d) => d > 0.004).length, residual: median(residuals), tiltLow: tilts[0], tiltHigh: tilts.at(-1) };
}

// byHand marks six points on each of two rings, a pixel off at random, and
// compares a map from these alone.
function byHand(count: number) {
  const off: number[] = [];
  for (let n = 0; n < count; n++) {
    const rng = seeded(900 + n), h = camera(rng, 10 + 30 * rng()), shake = () => 2 * rng() - 1;
    const mark = (radius: number) => Array.from({ length: 6 }, (_, k) => { const p = mapped(h, { x: radius * Math.cos(k + 0.2), y: radius * Math.sin(k + 0.2) }); return { x: p.x + shake(), y: p.y + shake(), radius }; });
    const a = mark(0.244), b = mark(0.61), top = mapped(h, { x: 0, y: 0.6 });
    const map = upright(refined(rectifier(fitConic(a), fitConic(b), 0.61), [...a, ...b]).map, top);
    for (let k = 0; k < 6; k++) { const r = 0.6 * Math.sqrt(rng()), at = { x: r * Math.cos(k), y: r * Math.sin(k) }, p = mapped(map, mapped(h, at)); off.push(Math.hypot(p.x - at.x, p.y - at.y)); }
  }
  return { count, median: median(off), p95: [...off].sort((x, y) => x - y)[Math.floor(0.95 * off.length)] };
}

// problems are the words for what cannot be used.
function problems(): string[] {
  const said = (f: () => unknown): string => { try { f(); return "no problem"; } catch (e) { return e instanceof Error ? `${e.constructor.name}: ${e.message}` : String(e); } };
  const line = [0, 1, 2, 3, 4].map((x) => ({ x, y: 2 * x + 1 })), grey = { width: 60, height: 60, data: new Uint8ClampedArray(4 * 3600).fill(120) };
  const circle = fitConic([0, 1, 2, 3, 4, 5].map((k) => ({ x: 50 + 9 * Math.cos(k), y: 40 + 9 * Math.sin(k) })));
  return [said(() => fitConic(line.slice(0, 4))), said(() => fitConic(line)), said(() => commonOf(circle, circle)), said(() => findRings(grey, { x: 30, y: 30 }, zones122))];
}

const { process } = globalThis as unknown as { process: { argv: string[] } };
const count = Number(process.argv[2]);
console.log(JSON.stringify({ exact: exact(), inverse: multiply(inverse([2, 1, 0, 1, 3, 1, 0, 1, 4]), [2, 1, 0, 1, 3, 1, 0, 1, 4]), pictures: pictures(count), byHand: byHand(60), problems: problems() }));
