import { useState } from "preact/hooks";
import { asProblem } from "../lib/load";
import { Note } from "../ui/field";
import { before } from "./question";
import { standing, takeBack } from "./send";
import type { Page } from "./trial";
import type { StopReading } from "./types";
import { countOf, counted, feels } from "./words";

// Noted lists what stands at a stop; each entry can be corrected or taken
// back, and a taking back undone.
export function Noted({ view, stop, again, correct }: Page & { stop: number; correct: (r: StopReading) => void }) {
  const [undo, setUndo] = useState<{ id: string; text: string } | null>(null);
  const [problem, setProblem] = useState<string>();
  const act = (what: Promise<unknown>) => void what.then(again, (e: unknown) => setProblem(asProblem(e).message));
  const list = standing(view.stops[stop]!.readings);
  if (list.length === 0 && !undo) return null;
  return (
    <section class="noted" aria-label="Noted at this stop">
      <h3>Noted here</h3>
      {problem && <Note kind="bad">{problem}</Note>}
      <ul>
        {list.map((r) => (
          <li key={r.reading.id}>
            <span class="said">
              <span class="what">{r.label}</span>
              <strong class="num">{inWords(r, before(view, stop))}</strong>
              {r.unsent && <span class="unsent">not yet sent</span>}
            </span>
            <span class="acts">
              <button type="button" class="quiet small" onClick={() => correct(r)} aria-label={`Correct ${r.label}`}>Correct</button>
              <button type="button" class="quiet small" aria-label={`Take back ${r.label}`}
                onClick={() => act(takeBack(r.reading.id, "taken back at the stop").then((id) => setUndo({ id, text: `${r.label} ${r.shown}` })))}>Take back</button>
            </span>
          </li>
        ))}
      </ul>
      {undo && (
        <p role="status">Taken back: {undo.text}. <button type="button" class="quiet small" onClick={() => { setUndo(null); act(takeBack(undo.id, "undone")); }}>Undo</button></p>
      )}
    </section>
  );
}

// inWords shows a reading with what belongs to it.
export function inWords(r: StopReading, from: number): string {
  switch (r.reading.kind) {
    case "brace_height": return r.reading.edge === "button" ? `${r.shown} from the button` : r.shown;
    case "turns": return counted(countOf(r.reading.text) - from);
    case "feel": return `${r.shown}, ${feels.find(([v]) => v === r.reading.text)?.[1] ?? ""}`.replace(/, $/, "");
    default: return r.shown;
  }
}
