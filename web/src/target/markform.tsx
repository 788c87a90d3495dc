import { useState } from "preact/hooks";
import { useBusy } from "../lib/busy";
import { readDraft, useDraft } from "../lib/draft";
import { api, post, told, type Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { queue, record, withdraw } from "../lib/outbox";
import { bringBack, retractAll, takeBack } from "../lib/takeback";
import type { ReadingView, Shown } from "../lib/types";
import { offerUndo, type Far } from "../lib/undo";
import { idAt, uuidv7 } from "../lib/uuid";
import { when } from "../lib/words";
import { Field, Note, Quantity } from "../ui/field";

// Mark is a sight mark as it is kept.
interface Mark { id: string; distance: string; text: string; at: string }
// Draft is one as typed; at is since when it was tried to be kept: what is typed
// after that is the next mark, and what is kept twice is the same one.
type Draft = Omit<Mark, "at"> & { at?: string };
interface Kept { id: string; text: string }

// MarkForm keeps one mark, or a pasted table of them. Each is a reading of the
// bow; one typed wrong is taken out and kept again.
export function MarkForm({ bow, setup, stored }: { bow: string; setup: string; stored: () => void }) {
  const [initial] = useState<Draft>(() => ({ id: uuidv7(), distance: "", text: "" }));
  const [draft, setDraft] = useDraft<Draft>(`mark|${bow}`, initial);
  const { busy, run } = useBusy();
  const [problem, setProblem] = useState<Problem>();
  const [empty, setEmpty] = useState(false);
  const [said, setSaid] = useState<Kept>();
  const change = (next: Partial<Draft>) => { setProblem(undefined); setEmpty(false); setSaid(undefined); setDraft((d) => ({ ...d, ...(d.at && { id: uuidv7(), at: undefined }), ...next })); };
  const save = () => run(async () => {
    if (draft.distance.trim() === "" || draft.text.trim() === "") return setEmpty(true);
    const sent = { ...draft, at: draft.at ?? new Date().toISOString() };
    setDraft(sent);
    try {
      const how = await record(...keptAs(bow, setup, sent));
      setDraft((now) => (now.id === sent.id ? { id: uuidv7(), distance: "", text: "" } : now));
      setSaid({ id: sent.id, text: how === "sent" ? "Kept." : "Kept on this device; it is sent as soon as the notebook answers." });
      stored();
    } catch (e) {
      setProblem(asProblem(e));
    }
  });
  const back = (id: string) => run(() => takeBack(`${api}/readings/${id}`, reason).then(() => { setSaid(undefined); stored(); }, (e: unknown) => setProblem(asProblem(e))));
  const missing = (text: string, what: string) => (empty && text.trim() === "" ? what : undefined);
  return (
    <>
      <form noValidate onSubmit={(e) => { e.preventDefault(); void save(); }}>
        <Quantity label="Distance" name="distance" required quantity="distance" field="distance" value={draft.distance} placeholder="like 30 m" onInput={(distance) => change({ distance })}
          error={missing(draft.distance, "The distance is missing. Something like 30 m.") ?? problem?.at("/distance")} />
        <Quantity label="Reading on the sight's scale" name="mark" required quantity="setting" value={draft.text} placeholder="like 23.4 mm" onInput={(text) => change({ text })}
          help="The mark that put a good group in the middle. A scale without a unit counts as millimetres." error={missing(draft.text, "The mark is missing. Something like 23.4 mm.") ?? problem?.at("/text")} />
        {problem && !problem.at("/distance") && !problem.at("/text") && <Note kind="bad">{told(problem)}</Note>}
        <button type="submit">{busy ? "Keeping…" : "Keep the mark"}</button>
        {said && <Note><p role="status">{said.text}</p><button type="button" class="quiet" onClick={() => void back(said.id)}>Take it back</button></Note>}
      </form>
      <Paste bow={bow} setup={setup} stored={stored} />
    </>
  );
}

// keptAs is a mark's record: its address, and what is in it.
const keptAs = (bow: string, setup: string, m: Mark): [string, unknown] =>
  [`${api}/readings/${m.id}`, { bow, setup, kind: "sight_mark", text: m.text, distance: m.distance, at: m.at }];

const reason = "taken out of the sight marks";

interface Read { marks: { distance: Shown; reading: Shown }[] }

// Made is what a table's marks were given when they were first tried to be kept:
// the first id, the time, and the lines in the order of their ids. A second
// press, or a table put right after a failure halfway, keeps no line twice.
interface Made { first: string; at: string; lines: string[] }

// made gives a table's marks their ids, old ones to lines that had theirs.
function made(read: Read, before: Made | null): { made: Made; marks: Mark[] } {
  const { first, at, lines } = before ?? { first: uuidv7(), at: new Date().toISOString(), lines: [] };
  const all = [...lines], seen = new Map<string, number>();
  const marks = read.marks.map((m) => {
    const distance = `${m.distance.si} m`, text = `${(m.reading.si * 1000).toFixed(3).replace(/\.?0+$/, "")} mm`;
    const same = `${distance}, ${text}`, nth = seen.get(same) ?? 0, line = nth > 0 ? `${same}, ${nth}` : same;
    seen.set(same, nth + 1);
    if (!all.includes(line)) all.push(line);
    return { id: idAt(first, all.indexOf(line)), distance, text, at };
  });
  return { made: { first, at, lines: all }, marks };
}

// keepAll keeps the marks one after the other; from the first that gets no
// answer on they wait in the outbox.
async function keepAll(bow: string, setup: string, marks: Mark[]): Promise<void> {
  let out = false;
  for (const m of marks) {
    if (out) queue(...keptAs(bow, setup, m));
    else out = (await record(...keptAs(bow, setup, m))) === "kept";
  }
}

// Paste takes a table: first it is read, then kept as a whole.
function Paste({ bow, setup, stored }: { bow: string; setup: string; stored: () => void }) {
  const [text, setText, clear] = useDraft<string>(`marks-table|${bow}`, "");
  const [before, setMade, forget] = useDraft<Made | null>(`marks-made|${bow}`, null);
  const { busy, run } = useBusy();
  const typedOn = () => (readDraft<string>(`marks-table|${bow}`) ?? "") !== text; // since this table was read or sent
  const [read, setRead] = useState<Read>();
  const [error, setError] = useState<string>();
  const look = async () => {
    setError(undefined);
    try {
      const found = await post<Read>(`${api}/sightmarks`, { setup, csv: text });
      if (!typedOn()) setRead(found);
    } catch (e) {
      if (!typedOn()) setError(told(asProblem(e)));
    }
  };
  const keep = () => run(async () => {
    try {
      const all = made(read!, before), ids = all.marks.map((m) => m.id);
      setMade(all.made);
      await keepAll(bow, setup, all.marks);
      forget();
      if (!typedOn()) clear();
      setRead((now) => (now === read ? undefined : now));
      stored();
      const undo = async (far: Far) => { await retractAll(ids.filter((id) => !withdraw(`${api}/readings/${id}`)), uuidv7(), "the whole table taken back", far); stored(); };
      offerUndo({ said: `${ids.length} marks brought in.`, undo, undone: "The whole table is taken back." });
    } catch (e) {
      setError(told(asProblem(e)));
    }
  });
  return (
    <details>
      <summary>Paste a table of marks</summary>
      <Field label="One mark a line: distance, reading" name="table" lines={5} value={text} placeholder={"18 m, 12.5 mm\n30 m, 23.4 mm"} error={error}
        onInput={(v) => { setText(v); setRead(undefined); setError(undefined); if (v.trim() === "") forget(); }} />
      {!read && <button type="button" disabled={text.trim() === ""} onClick={() => void look()}>Read the table</button>}
      {read && (
        <Note>
          <p>Understood: {read.marks.map((m) => `${m.distance.text} at ${m.reading.text}`).join("; ")}.</p>
          <button type="button" onClick={() => void keep()}>{busy ? "Keeping…" : `Keep these ${read.marks.length} marks`}</button>
        </Note>
      )}
    </details>
  );
}

// MarkList shows what is kept; of one distance the last counts.
export function MarkList({ marks, setup, changed }: { marks: ReadingView[]; setup: string; changed: () => void }) {
  const [problem, setProblem] = useState("");
  const { run } = useBusy();
  const out = (m: ReadingView) => run(async () => {
    const gone = uuidv7();
    try {
      await record(`${api}/retractions/${gone}`, { target: m.reading.id, reason });
      offerUndo({ said: `${m.reading.distance ?? ""}, ${m.shown} is taken out.`, undo: () => bringBack(gone).then(changed), undone: "The mark is back." });
      changed();
    } catch (e) {
      setProblem(told(asProblem(e)));
    }
  });
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
