import type { Place } from "../group/geometry";
import type { Ranged } from "../group/types";

// Two set-ups compared end by end, looking as you go: the notebook's own
// formula (trial/lookasyougo.go, where its source and its proof stand), so that
// the range without a network knows when it is decided. web/build holds it to
// Go's numbers.

export interface Pair { a: Place[]; b: Place[] }
export type Said = "A tighter" | "B tighter" | "cannot tell yet";
export interface PairsView { verdict: Said; evidence: number; pairs: number; arrows: [number, number]; ratio: Ranged }

export const enough = 20; // the e-value that decides, whenever one looks: 1/0.05 (Ville's inequality)

// spatialMedian is the point with the least sum of distances (Weiszfeld's
// iteration with the step of Vardi and Zhang where it meets a point).
export function spatialMedian(end: Place[]): Place {
  let { x, y } = mean(end);
  const squares = end.reduce((s, p) => s + (p.x - x) ** 2 + (p.y - y) ** 2, 0), scale = Math.sqrt(squares / end.length) + 1e-300;
  for (let turn = 0; turn < 200; turn++) {
    let w = 0, wx = 0, wy = 0, rx = 0, ry = 0, at = 0;
    for (const p of end) {
      const dx = p.x - x, dy = p.y - y, d = Math.hypot(dx, dy);
      if (d < 1e-12 * scale) { at++; continue; }
      w += 1 / d; wx += p.x / d; wy += p.y / d; rx += dx / d; ry += dy / d;
    }
    if (w === 0) break;
    const step = at > 0 ? Math.max(0, 1 - at / Math.hypot(rx, ry)) : 1, dx = step * (wx / w - x), dy = step * (wy / w - y);
    x += dx;
    y += dy;
    if (Math.hypot(dx, dy) < 1e-9 * scale) break;
  }
  return { x, y };
}

function mean(end: Place[]): Place {
  return { x: end.reduce((s, p) => s + p.x / end.length, 0), y: end.reduce((s, p) => s + p.y / end.length, 0) };
}

// logSpread is the logarithm of an end's spread as a variance: the mean
// distance from its spatial median, squared.
function logSpread(end: Place[]): number {
  const c = spatialMedian(end), k = Math.sqrt(end.length / (end.length - 1));
  return 2 * Math.log(end.reduce((s, p) => s + k * Math.hypot(p.x - c.x, p.y - c.y), 0) / end.length);
}

// logRatio is d = ln(S_A/S_B) of a pair; two ends without any spread are equal.
export function logRatio({ a, b }: Pair): number {
  const [x, y] = [logSpread(a), logSpread(b)];
  return x === y ? 0 : x - y;
}

const points = 81, reach = 1.6, width = 2 * Math.log(1.5) ** 2;
const grid = Array.from({ length: points }, (_, i) => reach * ((2 * i) / (points - 1) - 1));
const heavy = grid.map((u) => Math.exp((-u * u) / width)), whole = heavy.reduce((a, b) => a + b);
const prior = grid.map((u, i) => ({ theta: Math.exp(2 * u), w: heavy[i]! / whole }));

// bounded keeps an end without any spread from making infinities.
const bounded = (d: number): number => Math.min(Math.max(d, -50), 50);

// evidence is the e-value after every pair: 1 none, 20 decides.
export function evidence(d: number[], nu: number[]): number[] {
  let product = prior.map(() => 1);
  return d.map((each, i) => {
    const after = bet(product, each, nu[i]!);
    product = after.product;
    return after.evidence;
  });
}

// bet takes one pair: the product of the factors for every ratio of the prior,
// and the evidence so far.
function bet(product: number[], d: number, nu: number): { product: number[]; evidence: number } {
  const x = Math.exp(bounded(d)), next = prior.map(({ theta }, k) => product[k]! * 2 / (1 + ((theta + x) / (1 + theta * x)) ** nu));
  return { product: next, evidence: prior.reduce((sum, { w }, k) => sum + w * next[k]!, 0) };
}

// likeliestRatio maximises the likelihood of the d's over ln(σ_A/σ_B).
function likeliestRatio(d: number[], nu: number[]): number {
  let low = -5, high = 5;
  for (let turn = 0; turn < 60; turn++) {
    const mid = (low + high) / 2;
    if (d.reduce((s, each, i) => s + nu[i]! * Math.tanh((bounded(each) - 2 * mid) / 2), 0) > 0) low = mid;
    else high = mid;
  }
  return (low + high) / 2;
}

// coinInterval holds the ratios whose own evidence has never reached 20.
function coinInterval(d: number[], nu: number[]): Ranged {
  const best = likeliestRatio(d, nu), lost = (ln: number): boolean => Math.max(...evidence(d.map((x) => x - 2 * ln), nu)) >= enough;
  const low = best - edge(-1, best, lost), high = best + edge(1, best, lost);
  return { value: Math.exp(best), low: Math.exp(low), high: Number.isFinite(high) ? Math.exp(high) : null };
}

// edge walks outward from the best ratio until the test rejects, then halves;
// the ratio 1 is looked at exactly, for it is what the verdict asks.
function edge(sign: number, best: number, lost: (ln: number) => boolean): number {
  let inside = 0;
  for (let out = 0.03; out < Math.log(1000); out += 0.03 + out / 10) {
    const one = -best * sign;
    if (inside < one && one < out && lost(0)) out = one;
    if (!lost(best + sign * out)) { inside = out; continue; }
    for (let turn = 0; turn < 30; turn++) {
      const mid = (inside + out) / 2;
      if (lost(best + sign * mid)) out = mid;
      else inside = mid;
    }
    return inside;
  }
  return Infinity;
}

// comparePairs gives the decision after the pairs so far; null before the
// first. It stands once the evidence has reached 20, even if it falls back.
export function comparePairs(pairs: Pair[]): PairsView | null {
  if (pairs.length === 0) return null;
  const d = pairs.map(logRatio), nu = pairs.map((p) => p.a.length + p.b.length - 2), e = evidence(d, nu), at = e.findIndex((x) => x >= enough);
  const winner: Said = at < 0 ? "cannot tell yet" : likeliestRatio(d.slice(0, at + 1), nu.slice(0, at + 1)) < 0 ? "A tighter" : "B tighter";
  const arrows = (of: (p: Pair) => Place[]): number => pairs.reduce((n, p) => n + of(p).length, 0);
  return { verdict: winner, evidence: at < 0 ? e.at(-1)! : Math.max(...e), pairs: pairs.length, arrows: [arrows((p) => p.a), arrows((p) => p.b)], ratio: coinInterval(d, nu) };
}

const futures = 200, horizon = 60, seedOfFutures = 20260307; // trial/lookasyougo.go, workbench/groupcompare.go

// Futures makes the random numbers of imagined ends, the same as Go's
// (trial/futures.go).
class Futures {
  private a = seedOfFutures; private b = 0xc011; private c = 0x5eed; private count = 1;
  constructor() { for (let n = 0; n < 12; n++) this.word(); }
  private word(): number {
    const out = (this.a + this.b + this.count) >>> 0;
    this.count = (this.count + 1) >>> 0;
    this.a = (this.b ^ (this.b >>> 9)) >>> 0;
    this.b = (this.c + (this.c << 3)) >>> 0;
    this.c = (((this.c << 21) | (this.c >>> 11)) + out) >>> 0;
    return out;
  }
  private uniform(): number { return (this.word() + 0.5) / 2 ** 32; }
  private logChi2(k: number): number {
    let sum = 0;
    for (let n = 0; n < Math.floor(k / 2); n++) sum -= 2 * Math.log(this.uniform());
    if (k % 2 === 1) {
      const u = this.uniform(), c = Math.cos(2 * Math.PI * this.uniform());
      sum -= 2 * Math.log(u) * c * c;
    }
    return Math.log(sum);
  }
  logF(k: number): number {
    const a = this.logChi2(k);
    return a - this.logChi2(k);
  }
}

// moreArrows is about how many more arrows a set-up it takes until the evidence
// reaches 20, if the difference is the one seen: the median of imagined futures;
// 0 where half of them do not get there in 60 pairs. It takes a phone a moment,
// so it lets the page breathe between futures, and gives undefined when it was
// stopped.
export async function moreArrows(pairs: Pair[], gone: () => boolean = () => false): Promise<number | undefined> {
  const d = pairs.map(logRatio), nu = pairs.map((p) => p.a.length + p.b.length - 2), k = nu.at(-1)!, seen = 2 * likeliestRatio(d, nu);
  const now = d.reduce((product, each, i) => bet(product, each, nu[i]!).product, prior.map(() => 1));
  const future = new Futures(), stops: number[] = [];
  for (let n = 0; n < futures; n++) {
    let product = now;
    for (let more = 1; more <= horizon; more++) {
      const after = bet(product, seen + future.logF(k), k);
      product = after.product;
      if (after.evidence < enough) continue;
      stops.push(more);
      break;
    }
    if (n % 5 !== 4) continue;
    await new Promise((go) => setTimeout(go));
    if (gone()) return undefined;
  }
  if (stops.length <= futures / 2) return 0;
  return stops.sort((x, y) => x - y)[futures / 2]! * pairs.at(-1)!.a.length;
}
