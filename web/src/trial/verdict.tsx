import { useState } from "preact/hooks";
import { api, post, put, type Problem } from "../lib/http";
import { asProblem, useGet, useLoaded } from "../lib/load";
import type { Rows } from "../lib/types";
import { useComma } from "../lib/me";
import { when } from "../lib/words";
import { uuidv7 } from "../lib/uuid";
import { Chart, type Figure } from "../ui/chart";
import { Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { Choices } from "./choices";
import { Later } from "./plan";
import type { Page } from "./trial";
import { Trends } from "./trends";
import type { KeptVerdict, TrialView, Verdict } from "./types";

// VerdictPage gives the trial's answer as it stands now: the words first, then
// what it rests on, then what choosing would cost.
export function VerdictPage(page: Page) {
  const { view } = page, id = view.trial.id;
  // A new reading or recording asks for a new verdict.
  const seen = JSON.stringify([view.stops.map((s) => s.readings.map((r) => [r.reading.id, r.unsent])), view.recordings.map((r) => r.id)]);
  const verdict = useLoaded<Verdict>(`${id}|${seen}`, (signal) => post<Verdict>(`${api}/trials/${id}/verdict`, {}, signal));
  const unsent = view.stops.some((s) => s.readings.some((r) => r.unsent));
  if (!verdict.value) {
    return verdict.problem ? <Wrong problem={verdict.problem} again={verdict.again} />
      : <Waits what={view.recordings.length > 0 ? `Listening to ${view.recordings.length === 1 ? "the recording" : `${view.recordings.length} recordings`} and weighing the stops …` : "Weighing the stops …"} />;
  }
  return (
    <>
      {unsent && <Note kind="warn">Some readings are still on this device only; the verdict does not know them yet.</Note>}
      <Shown v={verdict.value} view={view} />
      <Keep id={id} words={headline} sheet={`/sheets/trial/${id}`} />
      <Choices {...page} v={verdict.value} />
    </>
  );
}

// headline is the answer in the largest letters; "none" and "cannot tell" are
// answers and look no smaller than a spot.
function headline(v: Verdict): string {
  switch (v.outcome) {
    case "spot": return v.candidates.length === 1 ? "One spot stands out" : `${v.candidates.length} spots stand out`;
    case "no_spot": return "No spot stands out";
    case "repeat": return "Repeat some stops";
    case "difference": return "The two brace heights differ";
    case "cannot_tell": return "Cannot tell yet";
  }
}

function Shown({ v, view }: { v: Verdict; view: TrialView }) {
  const comma = useComma();
  // A picture of one point shows nothing: its words are listed instead.
  const points = (f: Figure) => new Set(f.series.filter((s) => s.kind === "points").flatMap((s) => s.x)).size;
  const measured = v.figures.filter((f) => points(f) > 1), lone = v.figures.filter((f) => points(f) === 1), model = v.figures.filter((f) => points(f) === 0);
  return (
    <>
      <section class="card verdict" aria-label="Verdict">
        <div class="outcome">
          <h2 class="big">{headline(v)}</h2>
          <p class="answer">{v.text}</p>
          {v.candidates.length > 0 && (
            <div class="cards">
              {v.candidates.map((c) => (
                <div class="spot" key={c.kind + c.stop}>
                  <h3>{c.kind === "lively" ? "Lively" : "Settled"}</h3>
                  <p class="big num">{c.brace_height.text}</p>
                  <p class="doubt num">{c.brace_height.doubt}, stop {c.stop}</p>
                  <ul>{c.evidence.map((e) => <li key={e}>{e}</li>)}</ul>
                </div>
              ))}
            </div>
          )}
        </div>
        {v.contrasts && <><h3>A minus B, by visits</h3><ul>{v.contrasts.map((c) => <li key={c}>{c}</li>)}</ul></>}
        <p class="doubt">From {v.stops} {v.stops === 1 ? "stop" : "stops"} and {v.arrows} counted {v.arrows === 1 ? "arrow" : "arrows"}; settling shots are left out.</p>
        {v.repeats.length > 0 && <Repeats v={v} view={view} />}
        {v.would_change.length > 0 && <><h3>What would change this</h3><ul>{v.would_change.map((w) => <li key={w}>{w}</li>)}</ul></>}
      </section>
      {v.warnings.length > 0 && <Note kind="warn"><strong>Before you trust it</strong><ul>{v.warnings.map((w) => <li key={w}>{w}</li>)}</ul></Note>}
      {measured.length > 0 && <section aria-label="Pictures"><div class="two">{measured.map((f) => <div class="card" key={f.title}><Chart figure={f} comma={comma} /></div>)}</div></section>}
      {lone.length > 0 && <section class="card"><h3>Measured at one stop only</h3><ul>{lone.map((f) => <li key={f.title}>{f.finding}</li>)}</ul></section>}
      <Trends list={v.trends} pair={v.contrasts !== undefined} />
      {model.length > 0 && <Later title="What the model says at these brace heights"><div class="two">{model.map((f) => <div class="card" key={f.title}><Chart figure={f} comma={comma} /></div>)}</div></Later>}
      {v.assumptions.length > 0 && <details><summary>What this assumes</summary><ul>{v.assumptions.map((a) => <li key={a}>{a}</li>)}</ul></details>}
    </>
  );
}

function Repeats({ v, view }: { v: Verdict; view: TrialView }) {
  return (
    <>
      <h3>Worth another visit</h3>
      <ul class="plain">
        {v.repeats.map((r) => {
          const at = view.stops.findIndex((s) => s.plan.number === r.stop);
          return <li key={r.stop}><a class="pad" href={`/trials/${view.trial.id}?stop=${at}&again=${r.arrows}`}>Stop {r.stop}, {r.brace_height.text}</a>: {r.arrows} more arrows. {r.reason}</li>;
        })}
      </ul>
    </>
  );
}

// Keep writes the verdict into the notebook, and lists those kept before; words
// says one of them in a line.
export function Keep<V>({ id, words, sheet }: { id: string; words: (v: V) => string; sheet?: string }) {
  const kept = useGet<Rows<KeptVerdict<V>>>(`/trials/${id}/verdicts`);
  const list = kept.value?.rows ?? [];
  const [next] = useState(uuidv7);
  const [state, setState] = useState<Problem | "busy" | "kept" | null>(null);
  const keep = () => {
    setState("busy");
    put(`${api}/trials/${id}/verdicts/${next}`, {}).then(() => { setState("kept"); kept.again(); }, (e: unknown) => setState(asProblem(e)));
  };
  const current = list.some((k) => k.current);
  return (
    <section class="card no-print" aria-label="Keep the verdict">
      {state !== null && typeof state === "object" && <Wrong problem={state} />}
      <div class="row">
        {current ? <p class="kept" role="status">✓ This verdict is kept in the notebook.</p>
          : <button type="button" disabled={state === "busy"} onClick={keep}>{state === "busy" ? "Keeping …" : "Keep this verdict"}</button>}
        {sheet && <a class="button" href={sheet}>Print the sheet</a>}
      </div>
      {list.length > 0 && (
        <ul class="plain">
          {list.map((k) => <li key={k.verdict.id}><span class="num">{when(k.verdict.at)}</span>: {words(k.view)}{k.current ? "" : <span class="faint"> (readings were added or changed since)</span>}</li>)}
        </ul>
      )}
    </section>
  );
}
