import { uuidv7 } from "../lib/uuid";
import { blankSpan, isPlaced, toMicron, type Place } from "./geometry";
import type { End, Impact } from "./types";

// The state of plotting: what was chosen, and the end that is open. All of it
// is kept on the device at every tap; nothing here talks to the notebook.

export interface Open { id: string; number: number; impacts: Impact[]; past: Impact[][]; note: string; corrects?: string }

export interface Plot {
  setup: string; distance: string; face: string; span: number; perEnd: string; numbers: string;
  session: string; sessionKept: boolean; place: string;
  day: string; byHand: boolean; current: string; // when the session was chosen, whether by hand, and under which set-up of the bow the set-up was
  ended?: string; // the session that was ended, until the next one has an end
  bare: boolean; rings: boolean; enlarge: boolean;
  bareFrom?: number; // in a bare-shaft test: shafts numbered from here on are the bare ones
  next: string; // the number tapped for the next arrow; "": the first that is free
  picked: number; // the arrow being moved, −1 for none
  open: Open; aside?: Open; // the open end, and one that waits while another is corrected
  correcting?: End; // as it was before the correction
  last?: End; // the end finished last, to be opened again
}

// unplotted is what a first visit begins with; the open end is made anew each
// time, since its id is the record's own.
export const unplotted: Omit<Plot, "open"> = {
  setup: "", distance: "", face: "122", span: blankSpan, perEnd: "6", numbers: "1 2 3 4 5 6", session: "", sessionKept: false, place: "", day: "", byHand: false, current: "",
  bare: false, rings: false, enlarge: false, next: "", picked: -1,
};

export function opened(number: number): Open {
  return { id: uuidv7(), number, impacts: [], past: [], note: "" };
}

// followed is the plot on a new day, or after the bow got a new set-up: the
// next end belongs to today's session and to the set-up that is on the bow
// now. An open end stays what it was begun as.
export function followed(p: Plot, setup: string, today: { id: string } | undefined, now: Date): Plot {
  if (p.open.impacts.length > 0 || p.open.corrects) return p;
  const day = now.toDateString(), stays = p.day === day && (p.byHand || p.sessionKept || !today);
  const session = stays ? {} : { day, byHand: false, session: today?.id ?? uuidv7(), sessionKept: today !== undefined, ended: undefined };
  return { ...p, ...session, ...(p.current === setup ? {} : { current: setup, setup }) };
}

// sessionEnded has the next end begin a new session, and remembers the one that
// was ended until then.
export const sessionEnded = (p: Plot, now: Date): Plot => ({ ...p, session: uuidv7(), sessionKept: false, byHand: true, day: now.toDateString(), ended: p.session, last: undefined });

// sessionResumed takes that back, unless an end stands in the new session.
export const sessionResumed = (p: Plot, was: Plot): Plot => (p.sessionKept ? p : { ...p, session: was.session, sessionKept: was.sessionKept, byHand: was.byHand, day: was.day, last: was.last, ended: undefined });

// numbersOf reads the arrows in use: "1 2 3", "1-12", or nothing for arrows
// without numbers.
export function numbersOf(text: string): string[] {
  const out: string[] = [];
  for (const word of text.split(/[\s,;]+/).filter(Boolean)) {
    const run = /^(\d{1,3})[-–](\d{1,3})$/.exec(word);
    if (!run) out.push(word.slice(0, 12));
    else for (let n = Number(run[1]); n <= Number(run[2]) && out.length < 24; n++) out.push(String(n));
  }
  return [...new Set(out)].slice(0, 24);
}

export const arrowsAnEnd = (p: Plot): number => Math.min(144, Math.max(1, Math.round(Number(p.perEnd)) || 6));

// nextArrow is the number of the next arrow: as tapped, else the first not yet
// plotted in this end; "" without numbers.
export function nextArrow(p: Plot): string {
  if (p.next) return p.next === none ? "" : p.next;
  const used = new Set(p.open.impacts.map((i) => i.arrow));
  return numbersOf(p.numbers).find((n) => !used.has(n)) ?? "";
}

// nextIsBare tells whether the next arrow is a bare shaft: by its number in a
// bare-shaft test, else as the switch stands.
export const nextIsBare = (p: Plot): boolean => (p.bareFrom === undefined ? p.bare : Number(nextArrow(p)) >= p.bareFrom);

// none is what a tap on "no number" picks.
export const none = "–";

export const isFull = (p: Plot): boolean => p.open.impacts.length >= arrowsAnEnd(p);

// change puts a new list of arrows in place of the old one, which undo brings
// back.
function change(p: Plot, impacts: Impact[]): Plot {
  const { open } = p;
  return { ...p, next: "", picked: -1, open: { ...open, impacts, past: [...open.past.slice(-19), open.impacts] } };
}

const made = (p: Plot, more: Partial<Impact>): Impact => {
  const arrow = nextArrow(p);
  return { ...(arrow && { arrow }), ...(nextIsBare(p) && { bare: true }), at: new Date().toISOString(), ...more };
};

// place puts the next arrow on the face, or moves the one that was picked.
export function place(p: Plot, at: Place): Plot {
  const where = { x_m: toMicron(at.x), y_m: toMicron(at.y) };
  const moved = p.open.impacts[p.picked];
  if (!moved) return change(p, [...p.open.impacts, made(p, where)]);
  const { ring: _, ...rest } = moved; // a new place is scored anew
  return change(p, p.open.impacts.map((i) => (i === moved ? { ...rest, ...where } : i)));
}

// call notes the next arrow by its ring only, or says what the picked one
// scored.
export function call(p: Plot, ring: string): Plot {
  const called = p.open.impacts[p.picked];
  if (!called) return change(p, [...p.open.impacts, made(p, { ring })]);
  return change(p, p.open.impacts.map((i) => (i === called ? { ...i, ring } : i)));
}

export const remove = (p: Plot, at: number): Plot => change(p, p.open.impacts.filter((_, k) => k !== at));

// edit changes what is known of one arrow, its place left alone.
export function edit(p: Plot, at: number, more: Impact): Plot {
  const impacts = p.open.impacts.map((i, k) => (k === at ? { ...i, ...more } : i));
  for (const i of impacts) {
    if (!i.arrow) delete i.arrow;
    if (!i.bare) delete i.bare;
    if (!i.ring) delete i.ring;
  }
  return { ...change(p, impacts), picked: at };
}

// undo takes the last change back; with nothing changed in the open end, it
// opens the end before.
export function undo(p: Plot): Plot {
  const back = p.open.past.at(-1);
  if (back) return { ...p, next: "", picked: -1, open: { ...p.open, impacts: back, past: p.open.past.slice(0, -1) } };
  return p.last && p.open.impacts.length === 0 ? reopen(p, p.last) : p;
}

export const canUndo = (p: Plot): boolean => p.open.past.length > 0 || (p.last !== undefined && p.open.impacts.length === 0);

// reopen opens an end that was finished. It is kept as it was; what follows is
// a new record that names the old one, so that nothing is overwritten. A half
// plotted end waits aside.
export function reopen(p: Plot, end: End): Plot {
  const { last: _, ...rest } = p;
  const aside = p.open.corrects || p.open.impacts.length === 0 ? p.aside : p.open;
  return { ...rest, aside, correcting: end, next: "", picked: -1, open: { ...opened(end.number ?? 1), impacts: end.impacts, note: end.note ?? "", corrects: end.id } };
}

// leave gives a correction up: the end stays as it was.
export const leave = (p: Plot, number: number): Plot => ({ ...p, aside: undefined, correcting: undefined, next: "", picked: -1, open: p.aside ?? opened(number) });

// Where an end belongs, beside what was chosen on the page.
export interface Belongs { bow: string; trial?: string; stop?: number }

// finish closes the open end: the record to send, and the state after it. A
// correction keeps what its end was shot with; number is the end that follows
// then.
export function finish(p: Plot, to: Belongs, number: number): { end: End; next: Plot } {
  const { open } = p;
  const shot = p.correcting ?? {
    ...to, setup: p.setup, face: p.face, number: open.number, at: firstAt(open.impacts),
    ...(p.distance.trim() && { distance: p.distance.trim() }), ...(to.trial ? {} : { session: p.session }),
  };
  const end: End = { ...shot, id: open.id, impacts: open.impacts, note: open.note.trim() || undefined, corrects: open.corrects };
  if (open.corrects) return { end, next: { ...leave(p, number), last: end } };
  return { end, next: { ...p, next: "", picked: -1, last: end, open: opened(open.number + 1) } };
}

// firstAt is when an end was shot: its first arrow's time, or now.
const firstAt = (impacts: Impact[]): string => impacts.find((i) => i.at)?.at ?? new Date().toISOString();

// bodyOf is an end as the notebook takes it: the id stands in the address.
export function bodyOf(e: End): Omit<End, "id"> {
  const { bow, setup, session, trial, stop, number, distance, face, impacts, corrects, note, at } = e;
  return { bow, setup, session, trial, stop, number, distance, face, impacts, corrects, note, at };
}

export const placedOf = (list: Impact[]): Impact[] => list.filter(isPlaced);
