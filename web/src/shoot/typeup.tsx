import { useState } from "preact/hooks";
import { bodyOf } from "../group/plotstate";
import type { ShownEnd } from "../group/ends";
import type { End, Face, Impact } from "../group/types";
import { useBusy } from "../lib/busy";
import { readDraft, useDraft } from "../lib/draft";
import { api, sentence } from "../lib/http";
import { asProblem } from "../lib/load";
import { useMe } from "../lib/me";
import { record } from "../lib/outbox";
import { uuidv7 } from "../lib/uuid";
import { sendEvent, sendReading } from "../trial/send";
import { Choice, Note } from "../ui/field";
import { given } from "./follow";
import { readArrows } from "./arrows";
import type { ShootView, Step } from "./types";

// TypeUp is for typing up the pencil card of a trial that is judged by where
// arrows hit, or by feel: every stop on one screen, the Tab key or a thumb from
// cell to cell, one button at the end. What is typed stays on this device until
// it is noted.
interface Row { arrows: string; feel: string; note: string; end?: { id: string; as: string; at: string }; felt?: { id: string; as: string } }
interface Card { face: string; rows: Record<number, Row> }
const emptyRow: Row = { arrows: "", feel: "", note: "" };

interface Props { view: ShootView; faces: Face[]; ends: ShownEnd[]; shot: Set<number>; again: () => void }

export function TypeUp({ view, faces, ends, shot, again }: Props) {
  const comma = useMe().me?.person.decimal_comma ?? false, inch = useMe().me?.unit_symbols.impact === "in";
  const feels = view.plan.kind === "sham" || view.plan.kind === "tiller", hits = view.plan.kind !== "sham";
  const usual = String(given(view, view.plan.steps[0]!, ends, comma).face);
  const key = `trial:${view.id}:typeup`;
  const [card, set, clear] = useDraft<Card>(key, { face: usual, rows: {} });
  const [errors, setErrors] = useState(new Map<number, string>());
  const [said, setSaid] = useState(""), { busy, run } = useBusy();
  const face = faces.find((f) => f.key === card.face) ?? faces[0]!;
  const change = (stop: number, more: Partial<Row>) => set((now) => ({ ...now, rows: { ...now.rows, [stop]: { ...emptyRow, ...now.rows[stop], ...more } } }));

  // noteRow notes a stop, or says what is wrong with it; a second try sends the
  // same records, unless what they hold was changed.
  const noteRow = async (step: Step, row: Row): Promise<string> => {
    const bare = view.plan.kind === "bare_shaft" || view.plan.kind === "nocking" ? (view.plan.ask.bare_shafts ?? 0) : 0;
    const { impacts, wrong } = readArrows(row.arrows, step.arrows, bare, face, inch);
    if (wrong) return wrong;
    if (row.feel.trim() && !/^[1-5]$/.test(row.feel.trim())) return "Write the feel as 1 (harsh) to 5 (sweet).";
    if (!shot.has(step.position)) await sendEvent(view.id, "reached", step.position);
    if (impacts.length > 0) {
      const as = JSON.stringify([impacts, row.note, face.key]), now = new Date().toISOString();
      const end = row.end?.as === as ? { ...row.end, at: row.end.at ?? now } : { id: uuidv7(), as, at: now }; // a card kept by an older program has no time
      change(step.position, { end });
      await record(`${api}/ends/${end.id}`, bodyOf({ ...endOf(view, step, ends, comma, face, impacts, row.note), id: end.id, at: end.at }));
    }
    if (row.feel.trim()) {
      const as = row.feel.trim(), id = row.felt?.as === as ? row.felt.id : uuidv7();
      change(step.position, { felt: { id, as } });
      await sendReading({ id: view.id, bow: view.bow, setup: view.setup } as Parameters<typeof sendReading>[0], step.position, id, { kind: "feel", text: as });
    }
    return "";
  };

  const save = () => run(async () => {
    const filled = view.plan.steps.filter((s) => card.rows[s.position]?.arrows.trim() || card.rows[s.position]?.feel.trim());
    if (filled.length === 0) return setSaid("Nothing is filled in yet: begin with the first stop.");
    const bad = new Map<number, string>();
    for (const step of filled) {
      const wrong = await noteRow(step, card.rows[step.position]!).catch((e: unknown) => { const p = asProblem(e); return p.fields[0] ? sentence(p.fields[0]) : p.message; });
      if (wrong) bad.set(step.position, wrong);
      else set((now) => ({ ...now, rows: since(now.rows, step.position, card.rows[step.position]!) }));
    }
    if (Object.keys(readDraft<Card>(key)?.rows ?? {}).length === 0) clear();
    const noted = filled.length - bad.size;
    setErrors(bad);
    setSaid(`${noted} ${noted === 1 ? "stop" : "stops"} noted.${bad.size > 0 ? ` ${bad.size} to put right: what is wrong stands beside it.` : ""}`);
    again();
    if (bad.size > 0) requestAnimationFrame(() => document.querySelector<HTMLElement>("[aria-invalid=true]")?.focus());
  });

  const cell = (step: Step, field: "arrows" | "feel" | "note", words: string, hint: string) => {
    const error = field === "note" ? undefined : errors.get(step.position);
    return (
      <td key={field} class={field === "arrows" ? "cell-shots" : `cell-${field}`}>
        <span class="cell-label" aria-hidden="true">{words}</span>
        <input aria-label={`Stop ${step.position + 1}, ${words}`} value={card.rows[step.position]?.[field] ?? ""} placeholder={hint} autocomplete="off" aria-invalid={error ? "true" : undefined}
          onInput={(e) => change(step.position, { [field]: e.currentTarget.value })} />
        {error && <p class="error">{error}</p>}
      </td>
    );
  };
  return (
    <form class="card typing" onSubmit={(e) => { e.preventDefault(); void save(); }}>
      <h2>Type up a pencil card</h2>
      {hits && <p>Arrow by arrow with spaces between, as written on the card: a ring (9, X, M), or a place in {inch ? "inches" : "cm"} right/up of the middle, like 3/-2. A number in front of a colon is the shaft's own: 7:9. Leave a stop empty to skip it.{view.plan.kind === "bare_shaft" || view.plan.kind === "nocking" ? " The bare shafts come last in each row." : ""}</p>}
      {feels && <p>{view.plan.kind === "tiller" ? "How it held: 1 wandered to 5 stood." : "Feel: 1 harsh to 5 sweet."}</p>}
      {hits && <Choice label="Face" value={face.key} options={faces.map((f): [string, string] => [f.key, f.name])} onInput={(v) => set((now) => ({ ...now, face: v }))} />}
      <div class="scroll" tabIndex={0} role="region" aria-label="The card">
        <table class="typeup">
          <thead><tr><th scope="col">stop</th>{!view.plan.hidden && <th scope="col">set</th>}{hits && <th scope="col">arrows</th>}{feels && <th scope="col">feel 1–5</th>}{hits && <th scope="col">note</th>}</tr></thead>
          <tbody>
            {view.plan.steps.map((s) => (
              <tr key={s.position}>
                <th scope="row">{s.position + 1}</th>
                {!view.plan.hidden && <td class="turn set-to">{s.label}</td>}
                {hits && cell(s, "arrows", "arrows", shot.has(s.position) ? "✓ noted" : `${s.arrows} arrows`)}
                {feels && cell(s, "feel", "feel 1–5", shot.has(s.position) && !hits ? "✓ noted" : "")}
                {hits && cell(s, "note", "note", "")}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {said && <Note kind={errors.size > 0 ? "bad" : ""}>{said}</Note>}
      <button class="main" disabled={busy}>{busy ? "Noting …" : "Note the card"}</button>
      <p class="row below"><a class="button" href={`/sheets/plan/${view.id}`}>Pencil card to print</a><a class="button" href={`/trials/${view.id}?view=verdict`}>To the verdict</a></p>
    </form>
  );
}

// since is what is left of the rows once one is noted: what was typed into it meanwhile.
function since(rows: Card["rows"], stop: number, noted: Row): Card["rows"] {
  const { [stop]: now, ...rest } = rows;
  const left = now && { arrows: now.arrows === noted.arrows ? "" : now.arrows, feel: now.feel === noted.feel ? "" : now.feel, note: now.note === noted.note ? "" : now.note };
  return left && (left.arrows || left.feel || left.note).trim() ? { ...rest, [stop]: left } : rest;
}

// endOf is the end of a stop as typed; arrows off the face are not its matter.
function endOf(view: ShootView, step: Step, ends: ShownEnd[], comma: boolean, face: Face, impacts: Impact[], note: string): Omit<End, "id" | "at"> {
  const how = given(view, step, ends, comma);
  return { bow: view.bow, setup: view.setup, trial: view.id, stop: step.position, number: step.position + 1, face: face.key, impacts, ...("distance" in how && { distance: how.distance as string }), ...(note.trim() && { note: note.trim() }) };
}

