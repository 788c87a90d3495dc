import { useState } from "preact/hooks";
import { useDraft } from "../lib/draft";
import { api, post, told, type Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { record, withdraw } from "../lib/outbox";
import { bringBack, retractAll, takeBack } from "../lib/takeback";
import type { ReadingView, Shown } from "../lib/types";
import { offerUndo, type Far } from "../lib/undo";
import { uuidv7 } from "../lib/uuid";
import { when } from "../lib/words";
import { Field, Note, Quantity } from "../ui/field";

interface Draft { id: string; distance: string; text: string }
interface Kept { id: string; text: string }

// MarkForm keeps one mark, or a pasted table of them. Each is a reading of the
// bow; one typed wrong is taken out and kept again.
export function MarkForm({ bow, setup, stored }: { bow: string; setup: string; stored: () => void }) {
  const [draft, setDraft, clear] = useDraft<Draft>(`mark|${bow}`, { id: uuidv7(), distance: "", text: "" });
  const [problem, setProblem] = useState<Problem>();
  const [empty, setEmpty] = useState(false);
  const [said, setSaid] = useState<Kept>();
  const change = (next: Partial<Draft>) => { setProblem(undefined); setEmpty(false); setSaid(undefined); setDraft((d) => ({ ...d, ...next })); };
  const save = async () => {
    if (draft.distance.trim() === "" || draft.text.trim() === "") return setEmpty(true);
    try {
      const how = await keepMark(bow, setup, draft);
      clear();
      setDraft({ id: uuidv7(), distance: "", text: "" });
      setSaid({ id: draft.id, text: how === "sent" ? "Kept." : "Kept on this device; it is sent as soon as the notebook answers." });
      stored();
    } catch (e) {
      setProblem(asProblem(e));
    }
  };
  const missing = (text: string, what: string) => (empty && text.trim() === "" ? what : undefined);
  return (
    <>
      <form noValidate onSubmit={(e) => { e.preventDefault(); void save(); }}>
        <Quantity label="Distance" name="distance" required quantity="distance" field="distance" value={draft.distance} placeholder="like 30 m" onInput={(distance) => change({ distance })}
          error={missing(draft.distance, "The distance is missing. Something like 30 m.") ?? problem?.at("/distance")} />
        <Quantity label="Reading on the sight's scale" name="mark" required quantity="setting" value={draft.text} placeholder="like 23.4 mm" onInput={(text) => change({ text })}
          help="The mark that put a good group in the middle. A scale without a unit counts as millimetres." error={missing(draft.text, "The mark is missing. Something like 23.4 mm.") ?? problem?.at("/text")} />
        {problem && !problem.at("/distance") && !problem.at("/text") && <Note kind="bad">{told(problem)}</Note>}
        <button type="submit">Keep the mark</button>
        {said && <Note><p role="status">{said.text}</p><button type="button" class="quiet" onClick={() => void takeBack(`${api}/readings/${said.id}`, reason).then(() => { setSaid(undefined); stored(); })}>Take it back</button></Note>}
      </form>
      <Paste bow={bow} setup={setup} stored={stored} />
    </>
  );
}

const keepMark = (bow: string, setup: string, m: Draft) =>
  record(`${api}/readings/${m.id}`, { bow, setup, kind: "sight_mark", text: m.text, distance: m.distance, at: new Date().toISOString() });

const reason = "taken out of the sight marks";

interface Read { marks: { distance: Shown; reading: Shown }[] }

// Paste takes a table: first it is read, then kept as a whole.
function Paste({ bow, setup, stored }: { bow: string; setup: string; stored: () => void }) {
  const [text, setText, clear] = useDraft<string>(`marks-table|${bow}`, "");
  const [read, setRead] = useState<Read>();
  const [error, setError] = useState<string>();
  const look = async () => {
    setError(undefined);
    try {
      setRead(await post<Read>(`${api}/sightmarks`, { setup, csv: text }));
    } catch (e) {
      setError(told(asProblem(e)));
    }
  };
  const keep = async () => {
    try {
      const ids: string[] = [];
      for (const m of read!.marks) await keepMark(bow, setup, { id: ids[ids.push(uuidv7()) - 1]!, distance: `${m.distance.si} m`, text: `${(m.reading.si * 1000).toFixed(3).replace(/\.?0+$/, "")} mm` });
      clear();
      setRead(undefined);
      stored();
      const undo = async (far: Far) => { await retractAll(ids.filter((id) => !withdraw(`${api}/readings/${id}`)), uuidv7(), "the whole table taken back", far); stored(); };
      offerUndo({ said: `${ids.length} marks brought in.`, undo, undone: "The whole table is taken back." });
    } catch (e) {
      setError(told(asProblem(e)));
    }
  };
  return (
    <details>
      <summary>Paste a table of marks</summary>
      <Field label="One mark a line: distance, reading" name="table" lines={5} value={text} placeholder={"18 m, 12.5 mm\n30 m, 23.4 mm"} error={error}
        onInput={(v) => { setText(v); setRead(undefined); setError(undefined); }} />
      {!read && <button type="button" disabled={text.trim() === ""} onClick={() => void look()}>Read the table</button>}
      {read && (
        <Note>
          <p>Understood: {read.marks.map((m) => `${m.distance.text} at ${m.reading.text}`).join("; ")}.</p>
          <button type="button" onClick={() => void keep()}>Keep these {read.marks.length} marks</button>
        </Note>
      )}
    </details>
  );
}

// MarkList shows what is kept; of one distance the last counts.
export function MarkList({ marks, setup, changed }: { marks: ReadingView[]; setup: string; changed: () => void }) {
  const [problem, setProblem] = useState("");
  const out = async (m: ReadingView) => {
    const gone = uuidv7();
    try {
      await record(`${api}/retractions/${gone}`, { target: m.reading.id, reason });
      offerUndo({ said: `${m.reading.distance ?? ""}, ${m.shown} is taken out.`, undo: () => bringBack(gone).then(changed), undone: "The mark is back." });
      changed();
    } catch (e) {
      setProblem(told(asProblem(e)));
    }
  };
  return (
    <>
      {marks.length > 0 && <ul class="lines">{[...marks].reverse().map((m) => (
        <li key={m.reading.id} class="mark">
          <span><strong class="num">{String(m.reading.distance ?? "")}: {m.shown}</strong> <span class="faint small">{when(m.reading.at)}{m.reading.setup === setup ? "" : ", on an earlier set-up"}</span></span>
          <button type="button" class="quiet" aria-label={`Take out ${String(m.reading.distance ?? "")}, ${m.shown}`} onClick={() => void out(m)}>Take out</button>
        </li>
      ))}</ul>}
      {problem && <Note kind="bad">{problem}</Note>}
    </>
  );
}
