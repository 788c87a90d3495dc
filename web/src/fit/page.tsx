import { useState } from "preact/hooks";
import { NumberTable } from "../bow/forecast";
import { useBow } from "../lib/bar";
import { useBusy } from "../lib/busy";
import { api, get } from "../lib/http";
import { record } from "../lib/outbox";
import { asProblem, useGet } from "../lib/load";
import { useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { capital, when } from "../lib/words";
import { Computing, usePolled } from "../standing/poll";
import { Note } from "../ui/field";
import { Answer } from "../ui/states";
import { Advise } from "./advise";
import type { Fit, FitReading, NextReading, Parameter } from "./types";
import { WhatIfCard } from "./whatif";

// FitPage is the bow as its readings tell it.
export function FitPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `${bow.value.bow.name} fitted`);
  useBow(bow.value);
  return (
    <Answer of={bow} what="Opening the bow…" title="Your bow, fitted">
      {(v) => (
        <>
          <p class="crumb"><a href={`/bows/${id}`}>{v.bow.name}</a></p>
          <h1>Your bow, fitted</h1>
          <p class="lead">The generic bow narrowed to yours by what you read on it: what a change does here, and which reading would tell most next.</p>
          {v.setup ? <Fitted id={id} /> : <Note>This bow has no set-up yet. Enter its settings first.</Note>}
        </>
      )}
    </Answer>
  );
}

function Fitted({ id }: { id: string }) {
  const person = useMe().me?.person;
  const units = person ? `${person.units}|${person.decimal_comma}` : null;
  const [kept, setKept] = useState(0);
  const of = usePolled<Fit>(units && `${id}|${units}|${kept}`, (signal) => get<Fit>(`${api}/bows/${id}/fit`, signal));
  return (
    <Answer of={of} what="Fitting the bow…">
      {(f) => (f.state === "computing" ? <Computing of={f} what="Fitting the bow to its readings…" /> : (
        <>
          <div class="two">
            <div>
              <Advise id={id} units={units} />
              <WhatIfCard id={id} units={units} />
            </div>
            <div>
              <Next list={f.next_readings} id={id} />
              <section class="card">
                <h2>As the bow stands</h2>
                <NumberTable rows={f.predictions} />
                {f.readings.length === 0 && <p class="doubt">Nothing here has seen this bow shoot yet: note a speed, a draw weight or where bare shafts land.</p>}
              </section>
            </div>
          </div>
          <Against list={f.readings} warnings={f.warnings} skipped={f.skipped} />
          <Learnt list={f.parameters} />
          <Keep id={id} fit={f} again={() => setKept((n) => n + 1)} />
        </>
      ))}
    </Answer>
  );
}

function Next({ list, id }: { list: NextReading[]; id: string }) {
  return (
    <section class="card">
      <h2>What to measure next</h2>
      {list.length === 0 && <p>No reading would narrow it by much.</p>}
      <ol>
        {list.slice(0, 3).map((n) => (
          <li key={n.label}>
            <strong>{capital(n.label)}</strong>: takes away about {Math.round(100 * n.expected_drop_ratio)} % of the doubt, in some {n.minutes} minutes. {n.why}
            <span class="faint small"> Needs: {n.needs}.</span>
          </li>
        ))}
      </ol>
      <a class="button" href={`/bows/${id}?note=1`}>Note a reading</a>
    </section>
  );
}

function Against({ list, warnings, skipped }: { list: FitReading[]; warnings: string[]; skipped: string[] }) {
  return (
    <section class="card">
      <h2>Your readings against the fitted bow</h2>
      {list.length === 0 && <p class="faint">None yet.</p>}
      {list.length > 0 && list.length <= few && <ReadingTable list={list} label="Readings against the fitted bow" />}
      {list.length > few && (
        <>
          <ReadingTable list={[...list].sort((a, b) => Math.abs(b.off_sd) - Math.abs(a.off_sd)).slice(0, 3)} label="The three readings furthest off" />
          <details><summary>All {list.length} readings</summary><ReadingTable list={list} label="Readings against the fitted bow" /></details>
        </>
      )}
      {warnings.map((w) => (w.includes("disagrees") ? <Note key={w} kind="warn">{w}</Note> : <p key={w} class="doubt">{w}</p>))}
      {skipped.map((w) => <p key={w} class="doubt">Not used: {w}</p>)}
    </section>
  );
}

// few readings are shown all at once; of more the furthest off stand first.
const few = 8;

function ReadingTable({ list, label }: { list: FitReading[]; label: string }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={label}>
      <table>
        <thead><tr><th scope="col">reading</th><th scope="col">read</th><th scope="col">fitted</th><th scope="col">off by, in its doubts</th></tr></thead>
        <tbody>{list.map((r, i) => <tr key={r.reading ?? i}><td>{capital(r.label)}</td><td class="num">{r.read}</td><td class="num">{r.fitted}</td><td class="num">{r.off_sd.toFixed(1)}</td></tr>)}</tbody>
      </table>
    </div>
  );
}

function Learnt({ list }: { list: Parameter[] }) {
  const short = (x: number) => (x === 0 ? "0" : Number(x.toPrecision(3)).toString());
  return (
    <section class="card">
      <h2>What the readings taught</h2>
      {list.length === 0 ? <p class="faint">Nothing yet: every parameter is as wide as before.</p> : (
        <div class="scroll" tabIndex={0} role="region" aria-label="Parameters before and after">
          <table>
            <thead><tr><th scope="col">parameter</th><th scope="col">now</th><th scope="col">before</th><th scope="col">learnt</th></tr></thead>
            <tbody>
              {list.map((p) => (
                <tr key={p.key}><td>{capital(p.label)}</td><td class="num">{short(p.value)} ± {short(p.sd)} {p.unit}</td><td class="num">{short(p.prior_value)} ± {short(p.prior_sd)} {p.unit}</td><td class="num">{Math.round(100 * p.learnt_share)} %</td></tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
      <p class="doubt">± is one standard deviation; without a unit it is a factor on the generic bow. Learnt: share of the variance that the readings took away.</p>
    </section>
  );
}

// Keep stores the fit with the readings it saw.
function Keep({ id, fit, again }: { id: string; fit: Fit; again: () => void }) {
  const [error, setError] = useState("");
  const { busy, run } = useBusy();
  const keep = () => run(async () => {
    setError("");
    try {
      await record(`${api}/fits/${uuidv7()}`, { bow: id });
      again();
    } catch (e) {
      setError(asProblem(e).message);
    }
  });
  return (
    <section class="card">
      <h2>Fits kept</h2>
      {fit.kept.length === 0 ? <p class="faint">None. A kept fit stays with the readings it saw, whatever is read later; from the first speed and bare shaft on, each new reading keeps one by itself.</p> : (
        <ul class="plain">{fit.kept.map((k) => <li key={k.id}>{when(k.at)}: {k.readings} readings{k.current ? ", as now" : ""}</li>)}</ul>
      )}
      {!fit.kept.some((k) => k.current) && <button type="button" disabled={busy} onClick={() => void keep()}>Keep this fit</button>}
      {error && <Note kind="bad">{error}</Note>}
    </section>
  );
}
