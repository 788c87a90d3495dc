import { useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { api, post, told, type Problem } from "../lib/http";
import { allRows, useGet, useLoaded, useSettled } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { useAddress, type Query } from "../lib/query";
import { useTitle } from "../lib/route";
import type { BowView, Doubted, ReadingView, Shown } from "../lib/types";
import { capital } from "../lib/words";
import { Chart, type Figure } from "../ui/chart";
import { Field, Note, Quantity } from "../ui/field";
import { Answer, Waits } from "../ui/states";
import { CopyTable } from "../ui/table";
import { HelpLine } from "../ui/helpline";
import { BowDoors, NeedsSetUp } from "./doors";
import { MarkForm, MarkList } from "./markform";

interface Line { distance: Shown; mark: Doubted; from_air: Shown; beyond_marks: boolean; time: Shown; speed: Shown }
interface SightView { lines: Line[]; marks: { distance: Shown; reading: Shown }[]; speed: Doubted; drag: Doubted; air: string; card?: string; figures: Figure[]; warnings: string[] }

// MarksPage keeps the sight marks that hit, and makes of them a mark for every
// distance in the day's air.
export function MarksPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Sight marks: ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "Bow"}</a></p>
      <h1>Sight marks</h1>
      <HelpLine to="at-the-target#sight-marks-for-the-days-air">How to shoot and read them</HelpLine>
      <Answer of={bow} what="Opening the bow…">
        {(view) => view.setup ? <Marks key={view.setup.setup.id} bow={id} setup={view.setup.setup.id} /> : <NeedsSetUp bow={id} what="Sight marks need the bow's settings: draw length, draw weight, brace height and the arrow's mass. From them comes what the marks are compared with." />}
      </Answer>
    </>
  );
}

function Marks({ bow, setup }: { bow: string; setup: string }) {
  const person = useMe().me?.person;
  const list = useLoaded<ReadingView[]>(`${bow}|${person?.units}`, (signal) => allRows<ReadingView>(`/readings?bow=${bow}`, signal));
  const marks = (list.value ?? []).filter((r) => r.reading.kind === "sight_mark" && !r.corrected_by);
  const [query, setQuery] = useAddress();
  const settled = useSettled(JSON.stringify(query), 500);
  const air = airOf(JSON.parse(settled) as Query);
  const key = marks.length >= 2 ? JSON.stringify([setup, air, marks.map((m) => m.reading.id), person?.units, person?.decimal_comma]) : null;
  const table = useLoaded<SightView>(key, (signal) => post<SightView>(`${api}/sightmarks`, { setup, air }, signal));
  return (
    <>
      <div class="two">
        <section class="card">
          <h2>Marks that hit</h2>
          <MarkForm bow={bow} setup={setup} stored={list.again} />
          <MarkList marks={marks} setup={setup} changed={list.again} />
        </section>
        <AirCard query={query} onQuery={setQuery} problem={table.problem} />
      </div>
      <section class="card" aria-busy={key !== null && !table.value}>
        <h2>Every distance, in this air</h2>
        {marks.length < 2 ? <p>{marks.length === 0 ? "No marks yet. " : "One mark so far. "}The table stands here once there are two marks, at least 10 m apart: the two give the arrow's speed and how much the air slows it.</p>
          : table.value ? <Table of={table.value} setup={setup} />
          : table.problem ? <Note kind="warn">No table yet. {told(table.problem)}</Note> : <Waits what="Fitting the marks…" />}
      </section>
      <BowDoors bow={bow} here="marks" />
    </>
  );
}

const airNames = ["temperature", "pressure", "humidity"] as const;

function airOf(query: Query): Query | undefined {
  const air = Object.fromEntries(airNames.filter((n) => query[n]?.trim()).map((n) => [n, query[n]!]));
  return Object.keys(air).length > 0 ? air : undefined;
}

function AirCard({ query, onQuery, problem }: { query: Query; onQuery: (q: Query) => void; problem?: Problem }) {
  const at = (name: string) => ({ name, value: query[name] ?? "", error: query[name] ? problem?.at(`/air/${name}`) : undefined, onInput: (v: string) => onQuery({ ...query, [name]: v }) });
  return (
    <section class="card">
      <h2>Today's air</h2>
      <p class="faint">Thin, warm air slows the arrow less: the far marks move. Left empty: 15 °C, 1013 hPa, 50 %.</p>
      <Quantity {...at("temperature")} label="Temperature" quantity="temperature" field="temperature" placeholder="like 24 °C" />
      <Quantity {...at("pressure")} label="Air pressure at the range" quantity="pressure" field="pressure" placeholder="like 1005 hPa" help="As a barometer at the range reads it, not reduced to sea level: high up it is much lower." />
      <Field {...at("humidity")} label="Humidity" placeholder="like 60 %" help="It hardly matters." />
    </section>
  );
}

function Table({ of, setup }: { of: SightView; setup: string }) {
  const comma = useComma();
  const [shown, setShown] = useState(false);
  const beyond = of.lines.some((l) => l.beyond_marks);
  return (
    <>
      <p>From {of.marks.length} marks: arrow speed <strong class="num">{of.speed.text}</strong> <span class="doubt">({of.speed.doubt})</span>, drag coefficient <strong class="num">{of.drag.text}</strong> <span class="doubt">({of.drag.doubt})</span>. Air: {of.air}.</p>
      {of.warnings.length > 0 && <Note kind="warn"><ul>{of.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
      {beyond && <Note>Marks with * lie beyond the distances you shot. Shoot one arrow at a safe butt, with a clear range behind, before you trust them.</Note>}
      <CopyTable label="Sight marks for every distance">
        <table class="num">
          <thead><tr><th scope="col">distance</th><th scope="col">mark</th><th scope="col">90 % within</th><th scope="col">from the air</th><th scope="col">flight</th><th scope="col">speed there</th></tr></thead>
          <tbody>{of.lines.map((l) => (
            <tr key={l.distance.si}>
              <th scope="row">{l.distance.text}{l.beyond_marks && <> *<span class="visually-hidden"> extrapolated</span></>}</th><td><strong>{l.mark.text}</strong></td><td>{l.mark.doubt}</td><td>± {l.from_air.text}</td><td>{l.time.text}</td><td>{l.speed.text}</td>
            </tr>
          ))}</tbody>
        </table>
      </CopyTable>
      <p class="doubt">The interval holds the fit's doubt, the setting of one mark, and what is not known of the air. Time and speed are the fitted arrow's; their doubt is that of the speed.</p>
      <p class="row">
        <a class="button" href={`/sheets/marks/${setup}.pdf?${new URLSearchParams({ air: of.air })}`}>Print the marks card</a>
        <button type="button" class="quiet" aria-expanded={shown} onClick={() => setShown(!shown)}>{shown ? "Hide the picture" : "Show the picture"}</button>
      </p>
      {shown && of.figures.map((f) => <Chart key={f.title} figure={f} comma={comma} />)}
    </>
  );
}
