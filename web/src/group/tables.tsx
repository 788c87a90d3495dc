import { useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useDraft } from "../lib/draft";
import { api, Problem, request } from "../lib/http";
import { asProblem, useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BowView, Rows, SetUpView } from "../lib/types";
import { offerUndo, type Far } from "../lib/undo";
import { uuidv7 } from "../lib/uuid";
import { Choice, Note, Quantity } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { WithMistakes } from "./mistakes";
import { keepEnds, notYet, takeBackEnds, type ReadEnd } from "./tablekeep";
import type { Face } from "./types";
import { setUpWords, useFaces } from "./with";

// TablesPage takes arrows in from a table and gives them out as one.
export function TablesPage({ bowId }: { bowId: string }) {
  const bow = useGet<BowView>(`/bows/${bowId}`);
  const faces = useFaces();
  const setups = useGet<Rows<SetUpView>>(`/bows/${bowId}/setups`);
  useBow(bow.value);
  useTitle("Tables");
  return (
    <>
      <p class="crumb"><a href={`/bows/${bowId}/plot`}>Plot</a></p>
      <h1>Tables</h1>
      <Answer of={setups} what="Opening the set-ups…">
        {(s) => <Answer of={faces} what="Opening the faces…">{(f) => <>
          <TableIn bow={bowId} setups={s.rows} faces={f.rows} />
          <TableOut bow={bowId} setups={s.rows} />
        </>}</Answer>}
      </Answer>
    </>
  );
}

interface Draft { text: string; setup: string; distance: string; face: string; first: string }
interface Table { ends: ReadEnd[]; arrows: number; warnings: string[] }

const example = "end,arrow,x_cm,y_cm\n1,1,3.2,-1.5\n1,2,-4.0,2.1\n1,3,0.5,6.0";

// most is how long a table may be to be shown for typing in it, and kept as it
// is typed.
const most = 300_000;

// TableIn reads a table, shows what it understood, and only then keeps it. The
// text stays until all of it is kept.
function TableIn({ bow, setups, faces }: { bow: string; setups: SetUpView[]; faces: Face[] }) {
  const [d, set, clear] = useDraft<Draft>(`table:${bow}`, { text: "", setup: setups[0]?.setup.id ?? "", distance: "", face: "122", first: "" });
  const [read, setRead] = useState<Table | Problem | "busy" | null>(null);
  const [kept, setKept] = useState<KeptTable | null>(null);
  const put = (more: Partial<Draft>) => set((now) => ({ ...now, ...more }));
  const [large, setLarge] = useState<{ name: string; text: string } | null>(null);
  const text = large?.text ?? d.text;
  const type = (typed: string) => { setRead(null); setKept(null); setLarge(null); put({ text: typed, first: uuidv7() }); };
  const look = (table = text) => {
    setRead("busy");
    readTable(table).then(setRead, (e: unknown) => setRead(asProblem(e)));
  };
  const file = async (f: File | undefined) => {
    if (!f) return;
    const table = await f.text();
    type(table.length > most ? "" : table);
    if (table.length > most) setLarge({ name: f.name, text: table });
    look(table);
  };
  const done = (places: number[], known: number) => {
    const table = { places, first: d.first, known, retractions: uuidv7() };
    setKept(table);
    if (places.length > 0) offerUndo({ said: `${ends(places.length)} brought in.`, undo: async (far) => { await takeBackTable(table, far); setKept({ ...table, gone: true }); }, undone: "The whole table is taken back." });
    clear();
    setLarge(null);
    setRead(null);
  };
  return (
    <section class="card" aria-label="Bring a table in">
      <h2>Bring a table in</h2>
      <p>The first line names the columns: <code>end,arrow,x_cm,y_cm</code>, x to the right and y up from the middle of the face, as seen from the shooting line. Also <code>_mm</code>, <code>_m</code>, <code>_in</code>; <code>ring</code> instead of x and y; <code>kind</code> fletched or bare; <code>setup</code>; <code>time</code>.</p>
      <div class="field">
        <label for="table-file">A file</label>
        <input id="table-file" type="file" accept=".csv,.txt,.tsv,text/csv,text/plain" onChange={(e) => { void file(e.currentTarget.files?.[0]); e.currentTarget.value = ""; }} />
      </div>
      {large && <p class="says">{large.name}: {large.text.length.toLocaleString()} letters. Too long to be shown or kept here; choose it again after a reload.</p>}
      <div class="field">
        <label for="table-text">Or paste it here</label>
        <textarea id="table-text" class="csv-text" rows={8} spellcheck={false} value={d.text} placeholder={example} onInput={(e) => type(e.currentTarget.value)} />
      </div>
      <p><button type="button" disabled={text.trim() === "" || read === "busy"} onClick={() => look()}>{read === "busy" ? "Reading…" : "Read it"}</button></p>
      {kept && <Kept bow={bow} of={kept} gone={() => setKept({ ...kept, gone: true })} />}
      {read instanceof Problem && (read.fields.length > 0 ? <WithMistakes text={text} problem={read} /> : <Wrong problem={read} />)}
      {read !== null && read !== "busy" && !(read instanceof Problem) && <Understood table={read} bow={bow} d={d} put={put} setups={setups} faces={faces} done={done} />}
    </section>
  );
}

// KeptTable is a table that was brought in: which of its ends are new, the ids
// they begin with, and those that taking it back begins with.
interface KeptTable { places: number[]; first: string; known: number; retractions: string; gone?: boolean }

const ends = (n: number): string => `${n} ${n === 1 ? "end" : "ends"}`;
const takeBackTable = (t: KeptTable, far: Far): Promise<void> => takeBackEnds(t.places, t.first, t.retractions, far);

interface UnderstoodProps { table: Table; bow: string; d: Draft; put: (more: Partial<Draft>) => void; setups: SetUpView[]; faces: Face[]; done: (places: number[], known: number) => void }

function Understood({ table, bow, d, put, setups, faces, done }: UnderstoodProps) {
  const keeping = useKeeping();
  const named = [...new Set(table.ends.map((e) => e.setup_text).filter(Boolean))];
  const keep = () => keeping.run(async (far, signal) => {
    const shot = { bow, setup: d.setup, distance: d.distance, face: d.face };
    const fresh = await notYet(table.ends, shot);
    await keepEnds(fresh, d.first, shot, signal, far);
    if (!signal.aborted) done(fresh.map((f) => f.n), table.ends.length - fresh.length);
  });
  return (
    <>
      <Note><p role="status"><strong>{table.arrows} arrows in {table.ends.length} {table.ends.length === 1 ? "end" : "ends"}.</strong> Nothing is kept yet: say what they were shot with.</p></Note>
      {table.warnings.length > 0 && <Note kind="warn"><ul>{table.warnings.map((w) => <li key={w}>{w}</li>)}</ul></Note>}
      {named.length > 1 && <Note kind="warn">The column setup names {named.length} set-ups ({named.slice(0, 5).join(", ")}). Bring one in at a time: all these ends join the one chosen here.</Note>}
      <Choice label="Set-up" value={d.setup} onInput={(setup) => put({ setup })} options={setups.map((s): [string, string] => [s.setup.id, setUpWords(s)])} />
      <Quantity label="Distance" quantity="distance" value={d.distance} onInput={(distance) => put({ distance })} name="table_distance" placeholder="70 m" />
      <Choice label="Face" value={d.face} onInput={(face) => put({ face })} options={faces.map((f): [string, string] => [f.key, f.name])} />
      {keeping.problem && <Wrong problem={keeping.problem} />}
      {keeping.busy ? <HowFar n={keeping.far} of={table.ends.length} stop={keeping.stop} />
        : <button type="button" class="main" onClick={keep}>{keeping.far > 0 ? "Go on with the rest" : `Keep all ${table.arrows} arrows`}</button>}
    </>
  );
}

// useKeeping runs something long that says how far it is and can be stopped.
function useKeeping() {
  const [state, set] = useState<{ busy: boolean; far: number; problem?: Problem }>({ busy: false, far: 0 });
  const [signal, setSignal] = useState<AbortController>();
  const run = (work: (far: (n: number) => void, signal: AbortSignal) => Promise<void>) => {
    const stop = new AbortController();
    setSignal(stop);
    set((now) => ({ busy: true, far: now.far }));
    work((far) => set({ busy: true, far }), stop.signal).then(() => set((now) => ({ busy: false, far: now.far })), (e: unknown) => set((now) => ({ busy: false, far: now.far, problem: asProblem(e) })));
  };
  return { ...state, run, stop: () => signal?.abort() };
}

function HowFar({ n, of, stop }: { n: number; of: number; stop?: () => void }) {
  return (
    <div role="status">
      <progress max={of} value={n} aria-label="How far" />
      <p class="num">{n} of {of}</p>
      {stop && <button type="button" class="quiet" onClick={stop}>Stop</button>}
    </div>
  );
}

// Kept says what was stored, and takes the whole table back again.
function Kept({ bow, of, gone }: { bow: string; of: KeptTable; gone: () => void }) {
  const { places: { length }, known } = of;
  const back = useKeeping();
  if (of.gone) return <Note><p role="status">The whole table is taken back. <a href={`/bows/${bow}/taken-back`}>Bring it back</a></p></Note>;
  return (
    <Note>
      <p role="status">{length} {length === 1 ? "end is" : "ends are"} in the notebook now.{known > 0 && ` ${known} were there already and were left out.`} <a href={`/bows/${bow}/groups`}>Look at the groups</a></p>
      {back.problem && <p class="error">{back.problem.message}</p>}
      {back.busy ? <HowFar n={back.far} of={length} /> : length > 0 && <button type="button" class="quiet" onClick={() => back.run(async (far) => { await takeBackTable(of, far); gone(); })}>Take the whole table back</button>}
    </Note>
  );
}

// readTable asks the notebook to read a text without storing anything.
async function readTable(text: string): Promise<Table> {
  return request<Table>("POST", `${api}/ends/read-csv`, new Blob([text], { type: "text/csv" }));
}

// TableOut gives the ends out as a table.
function TableOut({ bow, setups }: { bow: string; setups: SetUpView[] }) {
  const [setup, setSetUp] = useState("");
  const [unit, setUnit] = useState("cm");
  const [dialect, setDialect] = useState("comma");
  const of = `bow=${bow}${setup && `&setup=${setup}`}&dialect=${dialect}`;
  return (
    <section class="card" aria-label="Give a table out">
      <h2>Give a table out</h2>
      <p>Every end that stands, an arrow a line, or every reading; what was corrected or taken back is left out.</p>
      <Choice label="Which set-up" value={setup} onInput={setSetUp} options={[["", "all of this bow"], ...setups.map((s): [string, string] => [s.setup.id, setUpWords(s)])]} />
      <Choice label="Places in" value={unit} onInput={setUnit} options={[["cm", "cm"], ["mm", "mm"], ["m", "m"], ["in", "inches"]]} />
      <Choice label="Your spreadsheet writes" value={dialect} onInput={setDialect} options={[["comma", "1.5"], ["semicolon", "1,5"]]} />
      <div class="row">
        <a class="button" href={`${api}/ends.csv?${of}&unit=${unit}`} download="ends.csv">Save the arrows</a>
        <a class="button" href={`${api}/readings.csv?${of}`} download="readings.csv">Save the readings</a>
        <a class="button" href={`${api}/export.jsonl?bow=${bow}`} download="records.jsonl">Save every record</a>
      </div>
    </section>
  );
}
