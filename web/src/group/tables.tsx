import { useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useDraft } from "../lib/draft";
import { api, Problem, queue, request } from "../lib/http";
import { asProblem, useGet, useLast } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BowView, Rows, SetUpView } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { Choice, Note, Quantity } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { WithMistakes } from "./mistakes";
import type { Face, Impact } from "./types";
import { setUpWords, useFaces } from "./with";

// TablesPage takes arrows in from a table and gives them out as one.
export function TablesPage({ bowId }: { bowId: string }) {
  const bow = useLast("bow", bowId, useGet<BowView>(`/bows/${bowId}`));
  const faces = useFaces();
  const setups = useGet<Rows<SetUpView>>(`/bows/${bowId}/setups`);
  useBow(bow.value?.bow);
  useTitle("Tables of arrows");
  return (
    <>
      <p class="crumb"><a href={`/bows/${bowId}/plot`}>Plot</a></p>
      <h1>Tables of arrows</h1>
      <Answer of={setups} what="Opening the set-ups…">
        {(s) => <Answer of={faces} what="Opening the faces…">{(f) => <>
          <TableIn bow={bowId} setups={s.rows} faces={f.rows} />
          <TableOut bow={bowId} setups={s.rows} />
        </>}</Answer>}
      </Answer>
    </>
  );
}

interface Draft { text: string; setup: string; distance: string; face: string }
interface ReadEnd { number: number; setup_text?: string; impacts: Impact[] }
interface Table { ends: ReadEnd[]; arrows: number; warnings: string[] }

const example = "end,arrow,x_cm,y_cm\n1,1,3.2,-1.5\n1,2,-4.0,2.1\n1,3,0.5,6.0";

// TableIn reads a table, shows what it understood, and only then keeps it: all
// of it or nothing. The text stays until it is kept.
function TableIn({ bow, setups, faces }: { bow: string; setups: SetUpView[]; faces: Face[] }) {
  const [d, set, clear] = useDraft<Draft>(`table:${bow}`, { text: "", setup: setups[0]?.setup.id ?? "", distance: "", face: "122" });
  const [read, setRead] = useState<Table | Problem | "busy" | null>(null);
  const [kept, setKept] = useState("");
  const put = (more: Partial<Draft>) => set((now) => ({ ...now, ...more }));
  const type = (text: string) => { setRead(null); setKept(""); put({ text }); };
  const look = (text = d.text) => {
    setRead("busy");
    readTable(text).then(setRead, (e: unknown) => setRead(asProblem(e)));
  };
  const file = async (f: File | undefined) => {
    if (!f) return;
    const text = await f.text();
    type(text);
    look(text);
  };
  const keep = (t: Table) => {
    for (const e of t.ends) {
      queue(`${api}/ends/${uuidv7()}`, { bow, setup: d.setup, number: e.number, face: d.face, impacts: e.impacts, ...(d.distance.trim() && { distance: d.distance.trim() }), at: firstTime(e.impacts) });
    }
    clear();
    setRead(null);
    setKept(`${t.ends.length} ends with ${t.arrows} arrows are in the notebook now.`);
  };
  return (
    <section class="card" aria-label="Bring a table in">
      <h2>Bring a table in</h2>
      <p>The first line names the columns: <code>end,arrow,x_cm,y_cm</code>, x to the right and y up from the middle of the face, as seen from the shooting line. Also <code>_mm</code>, <code>_m</code>, <code>_in</code>; <code>ring</code> instead of x and y; <code>kind</code> fletched or bare; <code>setup</code>; <code>time</code>.</p>
      <div class="field">
        <label for="table-file">A file</label>
        <input id="table-file" type="file" accept=".csv,.txt,.tsv,text/csv,text/plain" onChange={(e) => { void file(e.currentTarget.files?.[0]); e.currentTarget.value = ""; }} />
      </div>
      <div class="field">
        <label for="table-text">Or paste it here</label>
        <textarea id="table-text" class="csv-text" rows={8} spellcheck={false} value={d.text} placeholder={example} onInput={(e) => type(e.currentTarget.value)} />
      </div>
      <button type="button" disabled={d.text.trim() === "" || read === "busy"} onClick={() => look()}>{read === "busy" ? "Reading…" : "Read it"}</button>
      {kept && <Note><p role="status">{kept} <a href={`/bows/${bow}/groups`}>Look at the groups</a></p></Note>}
      {read instanceof Problem && (read.fields.length > 0 ? <WithMistakes text={d.text} problem={read} /> : <Wrong problem={read} />)}
      {read !== null && read !== "busy" && !(read instanceof Problem) && <Understood table={read} d={d} put={put} setups={setups} faces={faces} keep={keep} />}
    </section>
  );
}

interface UnderstoodProps { table: Table; d: Draft; put: (more: Partial<Draft>) => void; setups: SetUpView[]; faces: Face[]; keep: (t: Table) => void }

function Understood({ table, d, put, setups, faces, keep }: UnderstoodProps) {
  const named = [...new Set(table.ends.map((e) => e.setup_text).filter(Boolean))];
  return (
    <>
      <Note><p role="status"><strong>{table.arrows} arrows in {table.ends.length} {table.ends.length === 1 ? "end" : "ends"}.</strong> Nothing is kept yet: say what they were shot with.</p></Note>
      {table.warnings.length > 0 && <Note kind="warn"><ul>{table.warnings.map((w) => <li key={w}>{w}</li>)}</ul></Note>}
      {named.length > 1 && <Note kind="warn">The column setup names {named.length} set-ups ({named.slice(0, 5).join(", ")}). Bring one in at a time: all these ends join the one chosen here.</Note>}
      <Choice label="Set-up" value={d.setup} onInput={(setup) => put({ setup })} options={setups.map((s): [string, string] => [s.setup.id, setUpWords(s)])} />
      <Quantity label="Distance" quantity="distance" value={d.distance} onInput={(distance) => put({ distance })} name="table_distance" placeholder="70 m" />
      <Choice label="Face" value={d.face} onInput={(face) => put({ face })} options={faces.map((f): [string, string] => [f.key, f.name])} />
      <button type="button" class="main" onClick={() => keep(table)}>Keep all {table.arrows} arrows</button>
    </>
  );
}

// readTable asks the notebook to read a text without storing anything.
async function readTable(text: string): Promise<Table> {
  return request<Table>("POST", `${api}/ends/read-csv`, new Blob([text], { type: "text/csv" }));
}

const firstTime = (list: Impact[]): string | undefined => list.find((i) => i.at)?.at;

// TableOut gives the ends out as a table.
function TableOut({ bow, setups }: { bow: string; setups: SetUpView[] }) {
  const [setup, setSetUp] = useState("");
  const [unit, setUnit] = useState("cm");
  return (
    <section class="card" aria-label="Give a table out">
      <h2>Give a table out</h2>
      <p>Every end that stands, an arrow a line; corrected ends and those taken back are left out.</p>
      <Choice label="Which set-up" value={setup} onInput={setSetUp} options={[["", "all of this bow"], ...setups.map((s): [string, string] => [s.setup.id, setUpWords(s)])]} />
      <Choice label="Places in" value={unit} onInput={setUnit} options={[["cm", "cm"], ["mm", "mm"], ["m", "m"], ["in", "inches"]]} />
      <a class="button" href={`${api}/ends.csv?bow=${bow}${setup && `&setup=${setup}`}&unit=${unit}`} download="ends.csv">Save as CSV</a>
    </section>
  );
}
