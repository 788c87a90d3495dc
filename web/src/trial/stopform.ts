import { useState } from "preact/hooks";
import { useBusy } from "../lib/busy";
import { readDraft, useDraft } from "../lib/draft";
import { Problem, sentence } from "../lib/http";
import { asProblem } from "../lib/load";
import { useMe } from "../lib/me";
import { uuidv7 } from "../lib/uuid";
import { before } from "./question";
import { sendEvent, sendReading, standing, withUnit, type NewReading } from "./send";
import type { Page } from "./trial";
import { thisVisit } from "./visits";
import type { StopReading } from "./types";
import { countOf, several } from "./words";

// StopDraft is what is typed at a stop and not yet noted. Made holds the ids
// given to what is being sent, so that a second try is the same record.
export interface StopDraft {
  brace: string; edge: string; turns: string; arrows: string; speed: string; feel: string; note: string;
  corrects: Partial<Record<Name, string>>; made: Record<string, { id: string; as: string }>;
}
export type Name = "brace" | "turns" | "arrows" | "speed" | "feel" | "note";
export const fields: Name[] = ["brace", "turns", "arrows", "speed", "feel", "note"];
export const kindOf: Record<Name, string> = { brace: "brace_height", turns: "turns", arrows: "arrows", speed: "speed", feel: "feel", note: "note" };

const untyped: StopDraft = { brace: "", edge: "", turns: "", arrows: "", speed: "", feel: "", note: "", corrects: {}, made: {} };

export interface StopForm {
  draft: StopDraft; put: (field: Name | "edge") => (v: string) => void; errors: Map<Name, string>; edge: string;
  dirty: boolean; correcting: boolean; busy: boolean; problem?: string;
  save: () => Promise<void>; correct: (r: StopReading) => void;
}

// useStop is the form of one stop; second: at a second visit to it.
export function useStop(page: Page, stop: number, second: boolean): StopForm {
  const { view, again } = page, s = view.stops[stop]!;
  const key = `trial:${view.trial.id}:stop:${stop}`;
  const [draft, set, clear] = useDraft<StopDraft>(key, untyped);
  const [errors, setErrors] = useState(new Map<Name, string>());
  const { busy, run } = useBusy();
  const [problem, setProblem] = useState<string>();
  const units = useMe().me?.unit_symbols ?? {};
  const edge = draft.edge || lastEdge(page) || "pivot";
  const dirty = fields.some((f) => draft[f].trim() !== "");

  const put = (field: Name | "edge") => (v: string) => {
    setErrors((e) => { const n = new Map(e); n.delete(field as Name); return n; });
    set((now) => ({ ...now, [field]: v }));
  };
  const correct = (r: StopReading) => {
    const name = fields.find((f) => kindOf[f] === r.reading.kind)!;
    const text = name === "turns" ? String(countOf(r.reading.text) - before(view, stop)) : r.reading.text;
    set((now) => ({ ...now, [name]: text, edge: r.reading.edge ?? now.edge, corrects: { ...now.corrects, [name]: r.reading.id } }));
    document.querySelector<HTMLElement>(`[name=${kindOf[name]}]`)?.focus();
  };

  const save = () => run(async () => {
    const { items, wrong } = itemsOf(draft, edge, thisVisit(view, stop, second), before(view, stop), units);
    setErrors(wrong);
    if (wrong.size > 0) return showWrong();
    setProblem(undefined);
    const made = { ...draft.made };
    for (const i of items) if (made[i.key]?.as !== i.as) made[i.key] = { id: uuidv7(), as: i.as };
    set((now) => ({ ...now, made }));
    try {
      // All of it is written down before the first answer: a page that goes away in between loses none.
      const reached = s.state === "todo" ? [sendEvent(view.trial.id, "reached", stop)] : [];
      const sent = items.map((i) => sendReading(view.trial, stop, made[i.key]!.id, i.reading).then(
        () => set((now) => ({ ...now, [i.name]: i.last && now[i.name] === draft[i.name] ? "" : now[i.name], corrects: { ...now.corrects, [i.name]: undefined } })),
        (e: unknown) => { throw new Refusal(i.name, asProblem(e)); }));
      const failed = (await Promise.allSettled([...reached, ...sent])).find((o) => o.status === "rejected");
      if (failed) throw failed.reason;
      set((now) => ({ ...now, made: {} }));
      if (fields.every((f) => !readDraft<StopDraft>(key)?.[f].trim())) clear(); // what was typed meanwhile stays
    } catch (e) {
      if (e instanceof Refusal) setErrors(new Map([[e.field, e.text]]));
      else setProblem(asProblem(e).message);
      showWrong();
    }
    again();
  });
  return { draft, put, errors, edge, dirty, correcting: Object.values(draft.corrects).some(Boolean), busy, problem, save, correct };
}

class Refusal extends Error {
  readonly text: string;
  constructor(readonly field: Name, p: Problem) {
    super(p.message);
    this.text = p.fields[0] ? sentence(p.fields[0]) : p.message;
  }
}

function showWrong(): void {
  requestAnimationFrame(() => document.querySelector<HTMLElement>("[aria-invalid=true]")?.focus());
}

// lastEdge is where the square stood last in this trial, else in the set-up.
function lastEdge({ view, setup }: Page): string | undefined {
  const read = view.stops.flatMap((s) => standing(s.readings, "brace_height")).at(-1);
  const set = (setup?.setup.settings.brace_height as { from?: string } | undefined)?.from;
  return read?.reading.edge || set;
}

interface Item { key: string; name: Name; as: string; last: boolean; reading: NewReading }

// itemsOf turns what was typed into readings, and says what cannot be read;
// noted is what stands of this visit.
export function itemsOf(d: StopDraft, edge: string, noted: StopReading[], from: number, units: Record<string, string>): { items: Item[]; wrong: Map<Name, string> } {
  const items: Item[] = [], wrong = new Map<Name, string>();
  const had = (n: Name) => standing(noted, kindOf[n]);
  const add = (name: Name, text: string, more: Partial<NewReading> = {}, key: string = name, last = true) => {
    const reading: NewReading = { kind: kindOf[name], text, corrects: d.corrects[name], ...more };
    items.push({ key, name, last, reading, as: JSON.stringify(reading) });
  };
  const count = (name: "turns" | "arrows", example: string) => {
    const n = countOf(d[name]);
    if (Number.isNaN(n)) wrong.set(name, `Write a plain number, like ${example}.`);
    else add(name, String(name === "turns" ? from + n : n), { corrects: had(name).at(-1)?.reading.id });
  };
  if (d.brace.trim()) add("brace", withUnit(d.brace, units.setting), { edge, repeat: d.corrects.brace ? undefined : had("brace").length + 1 });
  else if (had("brace").length === 0) wrong.set("brace", "The brace height is the one thing a stop needs: read the square, like 22.1 cm.");
  if (d.turns.trim()) count("turns", "3 or -3");
  if (d.arrows.trim()) count("arrows", "6");
  several(d.speed).forEach((text, i, all) => add("speed", withUnit(text, units.speed), { repeat: had("speed").length + i + 1 }, `speed${i}`, i === all.length - 1));
  if (d.feel) add("feel", d.feel, { corrects: had("feel").at(-1)?.reading.id });
  if (d.note.trim()) add("note", d.note.trim());
  return { items, wrong };
}

