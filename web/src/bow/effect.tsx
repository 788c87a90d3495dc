import { api, post } from "../lib/http";
import { useLoaded } from "../lib/load";
import { useMe } from "../lib/me";
import type { CheckView, Doubted, Preview, SetUpView, StopView } from "../lib/types";
import { Note } from "../ui/field";
import { RangeBar } from "../ui/range";
import { Cautions, Forecast } from "./forecast";

// Difference shows a change's forecast beside the one before it.
export function Difference({ now, view }: { now?: SetUpView; view: CheckView }) {
  const person = useMe().me?.person;
  const key = now && person ? `${now.setup.id}|${person.units}|${person.decimal_comma}` : null;
  const before = useLoaded<Preview>(key, (signal) => post<Preview>(`${api}/predict`, { setup: now!.setup.id }, signal));
  const after = view.preview;
  if (!after) return <>{view.brace && <RangeBar brace={view.brace} />}<p class="faint">{view.no_preview ?? (view.ok ? "" : "The forecast waits until every entry can be read.")}</p></>;
  const alone = !before.value || view.changes.length === 0;
  return (
    <>
      {view.brace && <RangeBar brace={view.brace} />}
      {alone ? <Forecast of={after} />
        : onlyBrace(view) ? <Paired now={now!} before={before.value!} after={after} />
        : <SideBySide before={before.value!} after={after} />}
      <Cautions lines={after.cautions} />
    </>
  );
}

// onlyBrace tells whether the brace height alone moves: then both ends are
// computed on the same plausible bows, and what they share cancels.
const onlyBrace = (view: CheckView): boolean => view.changes.every((c) => c.key === "brace_height.value" || c.key === "notes" || c.key === "nocking_point.value" || c.key === "tiller" || c.key.startsWith("button.") || c.key === "centre_shot")
  && view.changes.some((c) => c.key === "brace_height.value");

interface SweepView { stops: StopView[]; compared_with: number }

function Paired({ now, before, after }: { now: SetUpView; before: Preview; after: Preview }) {
  const a = before.brace_height.si, b = after.brace_height.si;
  const far = Math.abs(a - b) > 1e-5;
  const span = { from: mm(Math.min(a, b)), to: mm(Math.max(a, b)), steps: 2 };
  const sweep = useLoaded<SweepView>(far ? JSON.stringify([now.setup.id, span]) : null, (signal) => post<SweepView>(`${api}/sweep`, { setup: now.setup.id, ...span }, signal));
  const changes = sweep.value?.stops[a < b ? 1 : 0]?.changes;
  if (!far || sweep.problem) return <SideBySide before={before} after={after} />;
  return <SideBySide before={before} after={after} changes={changes ?? []} />;
}

const mm = (v: number) => `${(v * 1000).toFixed(3)} mm`;

// SideBySide is a table of before and after; the change has its own doubt only
// where the model can pair the two.
function SideBySide({ before, after, changes }: { before: Preview; after: Preview; changes?: Doubted[] }) {
  const names = ["speed", "draw_weight", "stored_energy", "residual_energy", "efficiency", "time_on_string", "string_length"];
  const find = (list: Doubted[], n: string) => list.find((d) => d.name === n);
  return (
    <>
      <div class="scroll" tabIndex={0} role="region" aria-label="Before and after">
        <table class="compare">
          <thead><tr><th scope="col">what</th><th scope="col">before</th><th scope="col">after</th>{changes && <th scope="col">change</th>}</tr></thead>
          <tbody>
            {names.map((n) => {
              const b = find(before.predicted, n), a = find(after.predicted, n), c = changes && find(changes, n);
              if (!a || !b) return null;
              return (
                <tr key={n}>
                  <th scope="row">{a.label}</th>
                  <td>{b.text}<br /><span class="doubt">{b.doubt}</span></td>
                  <td>{a.text}<br /><span class="doubt">{a.doubt}</span></td>
                  {changes && <td>{c ? <><strong>{c.text}</strong><br /><span class="doubt">{c.doubt}</span></> : "–"}</td>}
                </tr>
              );
            })}
          </tbody>
        </table>
      </div>
      {changes
        ? <p class="doubt">What all plausible bows share cancels in the change, so its doubt is smaller than that of the two values.</p>
        : <Note>For a change of this kind the model cannot pair before and after, so the difference has no doubt of its own to give: read it no finer than the spans.</Note>}
      <p class="doubt">Spans hold 90 % of {after.plausible_bows} plausible bows. The model is unfitted.</p>
    </>
  );
}
