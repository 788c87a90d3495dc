// A blind test: pairs of sounds in an order that nobody knows, half of them
// the same setting twice. Whoever prefers one of two equal sounds often cannot
// trust a preference between two settings.

export type Answer = "first" | "second" | "none";
export interface Round { first: "a" | "b"; second: "a" | "b"; answer?: Answer }

export const rounds = 12;

// makeRounds mixes as many pairs of equals as of different ones, each in
// either order; dice gives whole numbers below n.
export function makeRounds(dice: (n: number) => number): Round[] {
  const kinds: Round[] = [{ first: "a", second: "a" }, { first: "b", second: "b" }, { first: "a", second: "b" }, { first: "b", second: "a" }];
  const list = Array.from({ length: rounds }, (_, i) => ({ ...kinds[i % 4]! }));
  for (let i = list.length - 1; i > 0; i--) {
    const k = dice(i + 1);
    [list[i], list[k]] = [list[k]!, list[i]!];
  }
  return list;
}

export const dice = (n: number): number => crypto.getRandomValues(new Uint32Array(1))[0]! % n;

export interface Score { equal: number; falsely: number; different: number; forA: number; forB: number; p: number | null }

// scoreOf counts: preferences between equals are false, the others are held
// against a fair coin (exact sign test, two-sided).
export function scoreOf(list: Round[]): Score {
  const s: Score = { equal: 0, falsely: 0, different: 0, forA: 0, forB: 0, p: null };
  for (const r of list) {
    if (!r.answer) continue;
    if (r.first === r.second) {
      s.equal++;
      if (r.answer !== "none") s.falsely++;
      continue;
    }
    s.different++;
    if (r.answer === "none") continue;
    const liked = r.answer === "first" ? r.first : r.second;
    if (liked === "a") s.forA++;
    else s.forB++;
  }
  if (s.forA + s.forB > 0) s.p = signTest(Math.max(s.forA, s.forB), s.forA + s.forB);
  return s;
}

// signTest is the chance of at least k of n one way or the other by a fair
// coin.
export function signTest(k: number, n: number): number {
  let tail = 0, term = 1; // term: n choose i
  for (let i = 0; i <= n; i++) {
    if (i >= k) tail += term;
    term = (term * (n - i)) / (i + 1);
  }
  return Math.min(1, (2 * tail) / 2 ** n);
}

// Kept is the archer's own rate, for the side of every feel.
export interface Kept { equal: number; falsely: number; at: string }
export const keptAs = "ears";

export const rateWords = (k: Kept): string => `Your ears: of ${k.equal} pairs of equal sounds played blind, you preferred one in ${k.falsely}.`;
