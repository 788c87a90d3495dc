import { useBow } from "../lib/bar";
import { useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { capital, when } from "../lib/words";
import { Chart } from "../ui/chart";
import { Facts, Note } from "../ui/field";
import { Answer } from "../ui/states";
import type { CheckChart, StepState, Upkeep } from "./types";

// UpkeepPage finds drift before the score does: check readings against their
// own scatter, the string's creep, and how much string and arrows were shot.
export function UpkeepPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  const upkeep = useGet<Upkeep>(`/bows/${id}/upkeep`);
  useTitle(bow.value && `Keep ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "The bow"}</a></p>
      <h1>Keep it</h1>
      <p class="lead">Read brace height, nocking point and tiller at the start of a session. Each reading is held against the scatter of those before it.</p>
      <p class="row actions"><a class="button" href={`/bows/${id}#note-reading`}>Note a check reading</a></p>
      <Answer of={upkeep} what="Opening the check readings…">{(v) => <Page of={v} />}</Answer>
    </>
  );
}

const states: Record<CheckChart["state"], StepState> = { "in control": "fresh", drifting: "drifted", shifted: "stale", "too few readings": "todo" };
const words: Record<CheckChart["state"], string> = { "in control": "holds", drifting: "drifts", shifted: "moved", "too few readings": "too few" };

function Page({ of }: { of: Upkeep }) {
  return (
    <>
      {of.charts.length === 0 && <Note>No check reading was noted yet. Readings of a trial do not count: they were meant to differ.</Note>}
      <section class="card">
        <h2>The string</h2>
        <p>{of.creep.text}</p>
        <p>{of.string.text}{of.string.since ? ` On the bow since ${when(of.string.since)}.` : ""}</p>
      </section>
      <div class="two">{of.charts.map((c) => <One key={c.kind} of={c} />)}</div>
      {of.arrows.length > 0 && (
        <section class="card">
          <h2>The arrows</h2>
          <p class="faint">Shots by the number on the shaft, as far as ends were plotted. Inspect nocks and shafts before every session.</p>
          <div class="scroll" tabIndex={0} role="region" aria-label="Shots by arrow">
            <table>
              <thead><tr><th scope="col">arrow</th><th scope="col">shots</th><th scope="col">bare</th><th scope="col">last shot</th></tr></thead>
              <tbody>{of.arrows.map((a) => <tr key={a.arrow}><td>{a.arrow}</td><td>{a.shots}</td><td>{a.bare ?? 0}</td><td>{when(a.last_shot_at)}</td></tr>)}</tbody>
            </table>
          </div>
        </section>
      )}
    </>
  );
}

function One({ of: c }: { of: CheckChart }) {
  const comma = useComma();
  return (
    <section class="card" aria-label={`${c.label}: ${words[c.state]}`}>
      <h2>{capital(c.label)} <span class={`standing ${states[c.state]}`}>{words[c.state]}</span></h2>
      {c.figure ? <Chart figure={c.figure} comma={comma} /> : <p>{c.text}</p>}
      <Facts rows={[["last", c.last ?? "–"], ["mean", c.centre ?? "–"], ["limits", c.limits ?? "none yet"], ["scatter of a reading", c.scatter ?? "none yet"], ["readings", String(c.readings)]]} />
      {c.provisional && <p class="doubt">Fewer than ten readings: the limits are rough.</p>}
    </section>
  );
}
