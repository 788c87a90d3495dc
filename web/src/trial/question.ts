import { standing } from "./send";
import type { Question, StopView, TrialView } from "./types";
import { counted } from "./words";

// turnsAt gives the turns at a stop, counted from the trial's start: as noted,
// else as planned.
export function turnsAt(view: TrialView, stop: number): number {
  const noted = standing(view.stops[stop]!.readings, "turns").at(-1);
  return noted ? Number(noted.reading.text.replace(",", ".")) : view.stops[stop]!.plan.turns_from_now;
}

// before gives the turns at the stop before, 0 at the first.
export const before = (view: TrialView, stop: number): number => (stop === 0 ? 0 : turnsAt(view, stop - 1));

// braceAt gives a stop's last brace height to the pivot in metres, if this
// device knows its value; one that still waits has none yet.
function braceAt(s: StopView, behind: number): number | undefined {
  const last = standing(s.readings, "brace_height").at(-1)?.reading;
  if (!last || typeof last.value !== "number") return undefined;
  return last.edge === "button" ? last.value - behind : last.value;
}

// A square is read to about half a millimetre, twice running (common practice,
// no source).
const readingSD = 0.0005;

export interface Expected { value: number; half: number }

// A turn's worth is known beforehand to about half of itself (95 %): the
// bundle's thickness is a guess, and the shortening goes with its square.
const priorSD = 0.5 / 1.96;

interface Measured { turns: number; read: number; curve: number }

// measured lists the other stops whose brace height is known.
function measured(view: TrialView, except: number, behind: number): Measured[] {
  return view.stops.flatMap((s, i) => {
    const read = i === except ? undefined : braceAt(s, behind), at = curve(view, turnsAt(view, i));
    return read === undefined || !at ? [] : [{ turns: turnsAt(view, i), read, curve: at.value }];
  });
}

// worth is what a turn does on this string against what the model thinks: 1
// before the second reading, then learnt from the readings themselves by least
// squares, weighed against the prior.
function worth(list: Measured[]): Expected {
  const mean = (f: (m: Measured) => number) => list.reduce((sum, m) => sum + f(m), 0) / list.length;
  const read = mean((m) => m.read), model = mean((m) => m.curve);
  let sxx = 0, sxy = 0;
  for (const m of list) {
    sxx += (m.curve - model) ** 2;
    sxy += (m.curve - model) * (m.read - read);
  }
  const prior = 1 / priorSD ** 2, data = sxx / readingSD ** 2; // weights: one over the variance
  return { value: (prior + (sxx > 0 ? (sxy / sxx) * data : 0)) / (prior + data), half: 1.96 / Math.sqrt(prior + data) };
}

// expectedAt gives what the square should read after so many turns: the plan's
// curve at first; then the nearest reading, and from there as many turns as
// each is worth on this string.
export function expectedAt(view: TrialView, stop: number, t: number, behind: number): Expected | undefined {
  const at = curve(view, t), list = measured(view, stop, behind);
  if (!at || list.length === 0) return at;
  const from = list.reduce((a, b) => (Math.abs(b.turns - t) < Math.abs(a.turns - t) ? b : a));
  const rise = at.value - from.curve, k = worth(list);
  return { value: from.read + k.value * rise, half: Math.hypot(1.96 * readingSD, rise * k.half) };
}

// learnt is what this trial's own readings say of a stop still to shoot.
export function learnt(view: TrialView, stop: number, behind: number): Expected | undefined {
  if (measured(view, stop, behind).length === 0) return undefined;
  return expectedAt(view, stop, before(view, stop) + view.stops[stop]!.plan.turns_from_previous, behind);
}

// curve reads the plan's table of brace height against turns, straight between
// its rows.
function curve(view: TrialView, t: number): Expected | undefined {
  const rows = view.trial.plan.curve ?? [];
  const i = Math.min(Math.max(1, rows.findIndex((r) => r.Turns >= t)), rows.length - 1);
  const a = rows[i - 1], b = rows[i];
  if (!a || !b) return undefined;
  const f = (t - a.Turns) / (b.Turns - a.Turns);
  const value = a.Brace.value + f * (b.Brace.value - a.Brace.value);
  const half = (a.Brace.high - a.Brace.low) / 2;
  return { value, half: half + f * ((b.Brace.high - b.Brace.low) / 2 - half) };
}

// questionAt asks, when brace height and turns disagree, what happened. The
// reading stays as typed; the person decides. The notebook's own question
// stands before the one made here.
export function questionAt(view: TrialView, stop: number, show: (m: number) => string, behind: number): Question | undefined {
  const s = view.stops[stop]!;
  if (s.readings.some((r) => r.reading.kind === "note" && r.reading.text === bothRight)) return undefined;
  if (s.question) return s.question;
  const read = braceAt(s, behind), t = turnsAt(view, stop);
  const expect = expectedAt(view, stop, t, behind);
  if (read === undefined || !expect) return undefined;
  const allow = Math.hypot(expect.half, 1.96 * readingSD), miss = read - expect.value;
  if (Math.abs(miss) <= allow) return undefined;
  const from = before(view, stop);
  const q: Question = {
    text: `With ${counted(t - from)} the string should read ${show(expect.value - allow)} to ${show(expect.value + allow)}; you read ${show(read)}. What happened?`,
    answers: [],
  };
  const other = turnsFor(view, stop, read, from, behind);
  const gap = other === undefined ? Infinity : Math.abs(expectedAt(view, stop, other, behind)!.value - read);
  if (other !== undefined && other !== t && gap < Math.abs(miss) / 2) q.answers.push({ key: "turns", text: `It was ${counted(other - from)}`, turns: other - from });
  const edge = standing(s.readings, "brace_height").at(-1)!.reading.edge;
  if (behind > 0 && edge !== "button" && Math.abs(miss - behind) <= allow) q.answers.push({ key: "button", text: "I measured from the button, not from the grip", turns: t - from });
  q.answers.push(
    { key: "settle", text: "It had not settled: I shoot three more and measure again", turns: t - from },
    { key: "keep", text: "Both are right: keep them", turns: t - from },
  );
  return q;
}

export const bothRight = "brace height and turns were checked: both are right";

// turnsFor finds the whole number of turns that fits the reading best.
function turnsFor(view: TrialView, stop: number, read: number, from: number, behind: number): number | undefined {
  let best: number | undefined, gap = Infinity;
  for (let i = -40; i <= 40; i++) {
    const e = expectedAt(view, stop, from + i, behind);
    if (e && Math.abs(e.value - read) < gap) { gap = Math.abs(e.value - read); best = from + i; }
  }
  return best;
}
