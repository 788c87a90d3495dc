import { useState } from "preact/hooks";
import { useBusy } from "../lib/busy";
import { readDraft, useDraft } from "../lib/draft";
import { sentence } from "../lib/http";
import { asProblem } from "../lib/load";
import { useMe } from "../lib/me";
import { uuidv7 } from "../lib/uuid";
import { Note } from "../ui/field";
import { before } from "./question";
import { sendEvent, sendReading, standing } from "./send";
import { itemsOf, kindOf, type Name, type StopDraft } from "./stopform";
import type { Page } from "./trial";
import { signed } from "./words";

// CardPage is for typing up a pencil card: all stops on one screen, the Tab
// key or a thumb from cell to cell, one button at the end.
type Row = Pick<StopDraft, "brace" | "arrows" | "speed" | "feel" | "note"> & { made: StopDraft["made"] };
const columns: [keyof Row & Name, string][] = [["brace", "read"], ["arrows", "arrows"], ["speed", "speed"], ["feel", "feel 1–5"], ["note", "note"]];
const emptyRow: Row = { brace: "", arrows: "", speed: "", feel: "", note: "", made: {} };

interface Card { edge: string; rows: Record<number, Row> }
const keyOf = (page: Page): string => `trial:${page.view.trial.id}:card`;

export function CardPage(page: Page) {
  const { view } = page;
  const [card, set, clear] = useDraft<Card>(keyOf(page), { edge: "", rows: {} });
  const { errors, said, busy, save } = useSave(page, card, set, clear);
  const symbols = useMe().me?.unit_symbols;
  const edge = card.edge || "pivot";
  const cell = (stop: number, field: keyof Row & Name) => {
    const s = view.stops[stop]!, error = errors.get(`${stop}/${field}`);
    const had = standing(s.readings, kindOf[field]).map((r) => r.shown).join(", ");
    const label = `Stop ${s.plan.number}, ${columns.find(([f]) => f === field)![1]}`;
    return (
      <td key={field} class={`cell-${field}`}>
        <span class="cell-label" aria-hidden="true">{columns.find(([f]) => f === field)![1]}</span>
        <input aria-label={label} value={card.rows[stop]?.[field] ?? ""} placeholder={had ? `✓ ${had}` : field === "brace" ? s.plan.brace_height.text.replace(/ .*/, "") : ""}
          inputMode={field === "note" ? "text" : "decimal"} autocomplete="off" aria-invalid={error ? "true" : undefined}
          onInput={(e) => { const v = e.currentTarget.value; set((now) => ({ ...now, rows: { ...now.rows, [stop]: { ...emptyRow, ...now.rows[stop], [field]: v } } })); }} />
        {error && <p class="error">{error}</p>}
      </td>
    );
  };
  return (
    <form class="card typing" onSubmit={(e) => { e.preventDefault(); void save(); }}>
      <h2>Type up a pencil card</h2>
      <p>Only the brace height is needed; leave a stop empty to skip it. A bare number is read in {symbols?.setting ?? "your unit"}{symbols?.speed && `, a speed in ${symbols.speed}`}. Several speeds: with ; between them. What you type is kept on this device until it is noted.</p>
      <div class="taps edges" role="group" aria-label="Measured from">
        {([["pivot", "from the grip"], ["button", "from the button"]] as const).map(([v, text]) => (
          <button type="button" key={v} aria-pressed={edge === v} onClick={() => set((now) => ({ ...now, edge: v }))}>{text}</button>
        ))}
      </div>
      <div class="scroll">
        <table class="typeup">
          <thead><tr><th scope="col">stop</th><th scope="col">turns</th>{columns.map(([f, text]) => <th scope="col" key={f}>{text}</th>)}</tr></thead>
          <tbody>
            {view.stops.map((s, i) => (
              <tr key={i}>
                <th scope="row">{s.plan.number}</th>
                <td class="num turn">{signed(s.plan.turns_from_previous)}</td>
                {columns.map(([f]) => cell(i, f))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {said && <Note kind={errors.size > 0 ? "bad" : ""}>{said}</Note>}
      <button class="main" disabled={busy}>{busy ? "Noting …" : "Note the card"}</button>
      <p class="row"><a class="button" href={`/trials/${view.trial.id}?view=verdict`}>To the verdict</a></p>
    </form>
  );
}

// since is what is left of the rows once one is noted: what was typed into it meanwhile.
function since(rows: Card["rows"], stop: number, noted: Row): Card["rows"] {
  const { [stop]: now, ...rest } = rows;
  const left = now && Object.fromEntries(columns.map(([f]) => [f, now[f] === noted[f] ? "" : now[f]])) as Omit<Row, "made">;
  return left && columns.some(([f]) => left[f].trim()) ? { ...rest, [stop]: { ...left, made: {} } } : rest;
}

// useSave notes every filled row, stop by stop; a row at fault stays with its
// reason, the others are noted.
function useSave(page: Page, card: Card, set: (next: (now: Card) => Card) => void, clear: () => void) {
  const [errors, setErrors] = useState(new Map<string, string>());
  const [said, setSaid] = useState("");
  const { busy, run } = useBusy();
  const units = useMe().me?.unit_symbols ?? {};
  const noteRow = async (stop: number, row: Row): Promise<Map<string, string>> => {
    const s = page.view.stops[stop]!;
    const draft: StopDraft = { ...row, turns: "", edge: card.edge, corrects: {} };
    const { items, wrong } = itemsOf(draft, card.edge || "pivot", s.readings, before(page.view, stop), units);
    if (wrong.size > 0) return new Map([...wrong].map(([f, m]) => [`${stop}/${f}`, m]));
    const made = { ...row.made };
    for (const i of items) if (made[i.key]?.as !== i.as) made[i.key] = { id: uuidv7(), as: i.as };
    set((now) => ({ ...now, rows: { ...now.rows, [stop]: { ...emptyRow, ...now.rows[stop], made } } }));
    if (s.state === "todo") await sendEvent(page.view.trial.id, "reached", stop);
    for (const i of items) {
      try {
        await sendReading(page.view.trial, stop, made[i.key]!.id, i.reading);
      } catch (e) {
        const p = asProblem(e);
        return new Map([[`${stop}/${i.name}`, p.fields[0] ? sentence(p.fields[0]) : p.message]]);
      }
    }
    return new Map();
  };
  const save = () => run(async () => {
    const filled = page.view.stops.map((_, i) => i).filter((i) => columns.some(([f]) => card.rows[i]?.[f].trim()));
    if (filled.length === 0) return setSaid("Nothing is filled in yet: begin with the brace height of the first stop.");
    const bad = new Map<string, string>();
    let noted = 0;
    for (const i of filled) {
      const wrong = await noteRow(i, card.rows[i]!).catch((e: unknown) => new Map([[`${i}/brace`, asProblem(e).message]]));
      wrong.forEach((m, k) => bad.set(k, m));
      if (wrong.size > 0) continue;
      noted++;
      set((now) => ({ ...now, rows: since(now.rows, i, card.rows[i]!) }));
    }
    if (Object.keys(readDraft<Card>(keyOf(page))?.rows ?? {}).length === 0) clear();
    setErrors(bad);
    setSaid(`${noted} ${noted === 1 ? "stop" : "stops"} noted.${bad.size > 0 ? ` ${bad.size} ${bad.size === 1 ? "entry waits" : "entries wait"} for a correction: see the cells marked.` : ""}`);
    page.again();
    if (bad.size > 0) requestAnimationFrame(() => document.querySelector<HTMLElement>("[aria-invalid=true]")?.focus());
  });
  return { errors, said, busy, save };
}
