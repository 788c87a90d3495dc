import { useState } from "preact/hooks";
import { api, post, told } from "../lib/http";
import { useLoaded } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { metres } from "../lib/words";
import type { Brace, SetUpView, StopView } from "../lib/types";
import { Chart, type Figure } from "../ui/chart";
import { Note } from "../ui/field";
import { Waits } from "../ui/states";

interface SweepView { stops: StopView[]; compared_with: number; figures: Figure[]; plausible_bows: number; notes: string[] }

// SweepCard shows what each brace height in the limb maker's range would do.
export function SweepCard({ setup, brace }: { setup: SetUpView; brace: Brace }) {
  const person = useMe().me?.person;
  const span = spanOf(brace);
  const key = person && span ? JSON.stringify([setup.setup.id, span, person.units, person.decimal_comma]) : null;
  const sweep = useLoaded<SweepView>(key, (signal) => post<SweepView>(`${api}/sweep`, { setup: setup.setup.id, ...span, steps: 9 }, signal));
  return (
    <section class="card">
      <h2>What other brace heights would do</h2>
      {brace.state === "no-range" && <p class="faint">The limb maker's range is not entered, so this looks 15 mm to either side of where the bow is now. Enter the range before you move it.</p>}
      {!span ? <p class="faint">Enter a brace height to see this.</p>
        : sweep.value ? <Sweep of={sweep.value} />
        : sweep.problem ? <Note>Cannot be computed yet. {told(sweep.problem)}</Note>
        : <Waits what="Shooting the model at nine brace heights…" />}
    </section>
  );
}

// spanOf is the limb maker's range, or a little either side of the reading.
function spanOf(b: Brace): { from?: string; to?: string } | null {
  if (b.low && b.high) return {};
  if (!b.pivot) return null;
  return { from: metres(b.pivot.si - 0.015), to: metres(b.pivot.si + 0.015) };
}


function Sweep({ of }: { of: SweepView }) {
  const comma = useComma();
  const [shown, setShown] = useState(0);
  const figure = of.figures[shown] ?? of.figures[0];
  return (
    <>
      <div class="row chips" role="group" aria-label="Which quantity">
        {of.figures.map((f, i) => <button key={f.y.label} type="button" class="chip" aria-pressed={f === figure} onClick={() => setShown(i)}>{f.y.label}</button>)}
      </div>
      {figure && <Chart figure={figure} comma={comma} />}
      <Compared of={of} />
    </>
  );
}

// Compared lists the changes against the present brace height: what all
// plausible bows share cancels, so these are much better known.
function Compared({ of }: { of: SweepView }) {
  const names = ["speed", "residual_energy", "draw_weight", "time_on_string", "string_length"];
  const base = of.stops[of.compared_with];
  const heads = names.map((n) => of.stops[0]?.changes?.find((d) => d.name === n)?.label ?? n);
  return (
    <details>
      <summary>Change by change, height by height</summary>
      <p class="doubt">Against {base?.brace_height.text}, of the heights computed the nearest to yours. What all plausible bows share cancels here, so a change is better known than the value itself. In brackets: where 90 % of the plausible bows lie.</p>
      <div class="scroll" tabIndex={0} role="region" aria-label="Changes by brace height">
        <table>
          <thead><tr><th scope="col">brace height</th>{heads.map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
          <tbody>
            {of.stops.map((s, i) => (
              <tr key={s.brace_height.si} class={i === of.compared_with ? "here" : ""}>
                <th scope="row">{s.brace_height.text}</th>
                {names.map((n) => {
                  const d = s.changes?.find((c) => c.name === n);
                  return <td key={n}>{i === of.compared_with ? "as it is" : d ? <>{d.text}<br /><span class="doubt">({d.doubt})</span></> : "–"}</td>;
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}
