import type { Correction, Onset, Onsets, Tie } from "./types";

// What a person does to the onsets of a recording, as plain values: each
// change gives a new set of corrections, so that undoing is going back to the
// one before. What the program found is never touched.

export interface Edits { corrections: Correction[]; ties: Tie[] }
export type EventName = "clicker" | "release" | "impact";
export const eventNames: EventName[] = ["clicker", "release", "impact"];

// Mark is a shot as the page shows it: found, corrected, or added.
export interface Mark {
  key: string; auto?: Onset; release: number; impact: number | null; clicker: number | null;
  struck: boolean; changed: boolean; why: string; tie?: Tie;
}

const sameOnset = 0.010; // s: a correction's own release is the found one within this, as for the server
const tieWithin = 0.15; // s
export const least = 0.001; // s between two events of a shot

export const editsOf = (o: Onsets | undefined): Edits => ({ corrections: o?.corrections ?? [], ties: o?.ties ?? [] });

// marksOf joins what was found with what was corrected, in order.
export function marksOf(found: Onset[], edits: Edits): Mark[] {
  const marks: Mark[] = found.map((auto) => {
    const c = edits.corrections.find((k) => about(k, auto));
    const struck = Boolean(c && isStruck(c));
    return {
      key: `a${auto.release_s}`, auto, struck, changed: c !== undefined, why: auto.why,
      release: c?.release_s ?? auto.release_s,
      impact: c?.no_impact ? null : (c?.impact_s ?? auto.impact_s),
      clicker: c?.no_clicker ? null : (c?.clicker_s ?? auto.clicker_s),
    };
  });
  edits.corrections.forEach((c, i) => {
    if (c.auto_release_s !== undefined) return;
    marks.push({ key: `m${i}`, struck: false, changed: true, why: "set by hand", release: c.release_s!, impact: c.impact_s ?? null, clicker: c.clicker_s ?? null });
  });
  for (const m of marks) m.tie = edits.ties.filter((t) => Math.abs(t.release_s - m.release) < tieWithin).sort((a, b) => Math.abs(a.release_s - m.release) - Math.abs(b.release_s - m.release))[0];
  return marks.sort((a, b) => a.release - b.release);
}

const about = (c: Correction, auto: Onset) => c.auto_release_s !== undefined && Math.abs(c.auto_release_s - auto.release_s) <= sameOnset;
const isStruck = (c: Correction) => c.no_shot || (c.release_s === undefined && c.impact_s === undefined && c.clicker_s === undefined && !c.no_impact && !c.no_clicker);

// change replaces the correction of a mark; undefined puts back what was found.
function change(edits: Edits, mark: Mark, next: (c: Correction) => Correction | undefined): Edits {
  const at = mark.auto ? edits.corrections.findIndex((c) => about(c, mark.auto!)) : Number(mark.key.slice(1));
  const old: Correction = at >= 0 ? edits.corrections[at]! : { auto_release_s: mark.auto?.release_s };
  const made = next(old);
  const corrections = [...edits.corrections];
  if (at >= 0) corrections.splice(at, 1, ...(made ? [made] : []));
  else if (made) corrections.push(made);
  return { ...edits, corrections };
}

const milli = (t: number) => Math.round(1e5 * t) / 1e5;

// move sets one event of a shot; it never passes its neighbours.
export function move(edits: Edits, m: Mark, event: EventName, to: number, seconds: number): Edits {
  let t = Math.max(0, Math.min(seconds, to));
  if (event === "release") t = Math.max(m.clicker === null ? 0 : m.clicker + least, Math.min(m.impact === null ? seconds : m.impact - least, t));
  if (event === "impact") t = Math.max(m.release + least, t);
  if (event === "clicker") t = Math.min(m.release - least, t);
  t = milli(t);
  const next = change(edits, m, (c) => {
    const n: Correction = { ...c, no_shot: undefined };
    if (event === "release") n.release_s = t;
    if (event === "impact") { n.impact_s = t; n.no_impact = undefined; }
    if (event === "clicker") { n.clicker_s = t; n.no_clicker = undefined; }
    return n;
  });
  if (event !== "release" || !m.tie) return next;
  return { ...next, ties: next.ties.map((tie) => (tie === m.tie ? { ...tie, release_s: t } : tie)) };
}

// remove takes one event away; without its release a shot is no shot.
export function remove(edits: Edits, m: Mark, event: EventName): Edits {
  if (event === "release") return change(edits, m, (c) => (m.auto ? { auto_release_s: c.auto_release_s, no_shot: true } : undefined));
  return change(edits, m, (c) => (event === "impact"
    ? { ...c, impact_s: undefined, no_impact: m.auto ? true : undefined }
    : { ...c, clicker_s: undefined, no_clicker: m.auto ? true : undefined }));
}

// asFound drops whatever was corrected of a shot.
export const asFound = (edits: Edits, m: Mark): Edits => change(edits, m, () => undefined);

// add sets a shot that was missed.
export const add = (edits: Edits, at: number): Edits => ({ ...edits, corrections: [...edits.corrections, { release_s: milli(at) }] });

// tieTo says what a shot belongs to.
export function tieTo(edits: Edits, m: Mark, what: Partial<Tie>): Edits {
  const tie: Tie = { ...m.tie, ...what, release_s: milli(m.release) };
  const empty = !tie.arrow && !tie.ring && !tie.reading && !tie.end && tie.stop === undefined;
  const rest = edits.ties.filter((t) => t !== m.tie);
  return { ...edits, ties: empty ? rest : [...rest, tie] };
}
