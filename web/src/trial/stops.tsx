import { before } from "./question";
import { inWords } from "./noted";
import { standing } from "./send";
import { CopyTable } from "../ui/table";
import { Heard } from "./heard";
import type { Page } from "./trial";
import type { StopReading, StopView } from "./types";
import { named, signed } from "./words";

// StopsPage shows the whole trial at a glance: every stop with what was
// planned, expected and measured, and what was corrected on the way.
export function StopsPage({ view, again }: Page) {
  const id = view.trial.id, measured = view.stops.filter((s) => s.state === "measured").length;
  const whole = view.recordings.filter((r) => r.stop === undefined);
  const old = view.stops.flatMap((s) => s.readings.filter((r) => r.corrected_by).map((r) => ({ s, r })));
  return (
    <>
      <p>{measured} of {view.stops.length} stops measured.</p>
      <CopyTable label="All stops" box="card">
        <table class="stops">
          <thead>
            <tr><th scope="col">stop</th><th scope="col">turns</th><th scope="col">expected</th><th scope="col">read</th><th scope="col">speed</th><th scope="col">feel</th><th scope="col">arrows</th><th scope="col">recordings</th></tr>
          </thead>
          <tbody>
            {view.stops.map((s, i) => (
              <tr key={i}>
                <th scope="row" data-label="stop"><a class="pad" href={`/trials/${id}?stop=${i}`} aria-label={`Open stop ${s.plan.number}`}>{s.plan.number}</a></th>
                <td class="num" data-label="turns">{signed(s.plan.turns_from_previous)}</td>
                <td class="num" data-label="expected">{s.plan.brace_height.text}<br /><span class="doubt">{s.plan.brace_height.doubt}</span></td>
                <td class="num" data-label="read"><Read s={s} kind="brace_height" from={before(view, i)} none={s.state === "reached" ? "set, not read" : "to do"} /></td>
                <td class="num" data-label="speed"><Read s={s} kind="speed" from={0} none={`${named(s.plan.predicted, "speed")?.text ?? "–"} by the model`} /></td>
                <td data-label="feel"><Read s={s} kind="feel" from={0} none="–" /></td>
                <td class="num" data-label="arrows"><Read s={s} kind="arrows" from={0} none="–" /></td>
                <td class="num" data-label="recordings">{view.recordings.filter((r) => r.stop === i).length || "–"}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </CopyTable>
      {whole.length > 0 && <section class="card"><h2>Recordings of the whole trial</h2>{whole.map((r) => <Heard key={r.id} recording={r} again={again} />)}</section>}
      {old.length > 0 && (
        <details class="card">
          <summary>Corrected on the way ({old.length})</summary>
          <ul>{old.map(({ s, r }) => <li key={r.reading.id}>Stop {s.plan.number}: {r.label} <s class="num">{r.shown}</s></li>)}</ul>
        </details>
      )}
      <p class="row no-print"><a class="button" href={`/sheets/plan/${id}`}>Pencil card</a><a class="button" href={`/sheets/trial/${id}`}>Sheet of this trial</a></p>
    </>
  );
}

function Read({ s, kind, from, none }: { s: StopView; kind: string; from: number; none: string }) {
  const list: StopReading[] = standing(s.readings, kind);
  if (list.length === 0) return <span class="faint">{none}</span>;
  return <>{list.map((r, i) => <span key={r.reading.id}>{i > 0 && ", "}{kind === "brace_height" ? <strong>{inWords(r, from)}</strong> : r.shown}{r.unsent && <span class="unsent">not yet sent</span>}</span>)}</>;
}
