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

// A square is read to about half a millimetre twice running (common practice,
// no source); 1.96 of it holds 95 %.
const squareDoubt = 1.96 * 0.0005;

interface Expected { value: number; half: number }

// expectedAt gives what the square should read after so many turns: the plan's
// curve, moved by what the stops measured so far read above or below it. The
// doubt left is that of the rise since the nearest of them.
function expectedAt(view: TrialView, stop: number, t: number, behind: number): Expected | undefined {
  const at = curve(view, t);
  if (!at) return undefined;
  let best: Expected = { value: at.value, half: at.half };
  let nearest = Infinity;
  view.stops.forEach((s, i) => {
    const read = i === stop ? undefined : braceAt(s, behind);
    const there = read === undefined ? undefined : curve(view, turnsAt(view, i));
    if (read === undefined || !there || Math.abs(turnsAt(view, i) - t) >= nearest) return;
    nearest = Math.abs(turnsAt(view, i) - t);
    // Half the rise: how uncertain the bundle's thickness leaves a turn's worth.
    const rise = at.value - there.value;
    best = { value: read + rise, half: Math.hypot(2 * squareDoubt, Math.abs(rise) / 2) };
  });
  return best;
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
  const allow = Math.hypot(expect.half, squareDoubt), miss = read - expect.value;
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
