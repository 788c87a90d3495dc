import { capital } from "../lib/words";
import { Cautions } from "../bow/forecast";
import { Chart } from "../ui/chart";
import { useComma } from "../lib/me";
import { Note } from "../ui/field";
import { Clearance } from "./clearance";
import { FacePicture } from "./face";
import type { Compared, TargetView, Telling } from "./types";
import { isNought, landed, reach, readsAs, side } from "./words";

interface Seen { view: TargetView; shown: number; busy: boolean; changed: boolean }

// Holes is the picture, which stays in sight while a slider moves, and what it
// says in a line.
export function Holes({ view, shown, busy, changed, onShow }: Seen & { onShow: (i: number) => void }) {
  return (
    <section class="card holes" aria-busy={busy} aria-label="At the target">
      <div class="row chips" role="group" aria-label="Distance">
        {view.distances.map((d, i) => <button key={d.distance.si} type="button" class="chip" aria-pressed={i === shown} onClick={() => onShow(i)}>{d.distance.text}</button>)}
      </div>
      <FacePicture at={view.distances[shown]!} changed={changed} exact={view.exact} />
      {view.warnings.map((w) => <Note key={w} kind="bad">{w}</Note>)}
    </section>
  );
}

// Behind is the picture in words with its doubt, the clearance, and every
// number.
export function Behind({ view, shown, busy, changed }: Seen) {
  const at = view.distances[shown]!;
  const tail = view.quantities.find((q) => q.name === "tail_clearance");
  return (
    <div class="two">
      <section class="card">
        <h2>What is seen</h2>
        <p class="state" aria-live="polite">{view.exact && !busy ? <Said view={view} shown={shown} changed={changed} /> : <span class="faint">A quick look at one plausible set-up; the exact run with its doubt follows…</span>}</p>
        <Window of={changed ? view.after : view.before} view={view} bare={at.bare.now.si !== null} />
        <Cautions lines={view.cautions} />
      </section>
      <section class="card">
        <h2>How the tail clears the button</h2>
        {tail && <Clearance of={tail} changed={changed} least={0.0015} />}
        <Numbers view={view} changed={changed} shown={shown} />
      </section>
    </div>
  );
}

// Said is the picture in a sentence or two, each with its doubt.
function Said({ view, shown, changed }: { view: TargetView; shown: number; changed: boolean }) {
  const at = view.distances[shown]!;
  const bare = changed ? at.bare.after : at.bare.now;
  const { change: right } = at.right, { change: up } = at.up;
  return (
    <>
      {changed && <>With the sight left alone, {landed(at)} at {at.distance.text} (sideways {reach(right)}{isNought(up.text) ? "" : `; in height ${reach(up, "up", "down")}`}). </>}
      {bare.si !== null && <>The bare shaft lands {side(bare)} of the fletched arrows ({reach(bare)}){changed && <>, {isNought(at.bare.change.text) ? "unmoved" : <>moved {side(at.bare.change)} ({reach(at.bare.change)})</>}</>}. </>}
      {!changed && <>The sight is set for the set-up as it is. Move something to see what it does.</>}
      {bare.si === null && "No bare shaft is shown this far out: it may fly wide."}
    </>
  );
}

// Window withholds stiff and weak where a bare shaft does not tell them.
function Window({ of, view, bare }: { of: Telling; view: TargetView; bare: boolean }) {
  if (!of.in_window) return <Note kind="warn"><strong>The bare shaft tells nothing here.</strong> {capital(of.window_reason)}. Neither stiff nor weak is said of it.</Note>;
  if (!bare) return null;
  if (of.bare_shaft_reads === "cannot tell") return <Note><strong>Stiff or weak: cannot tell yet.</strong> {capital(of.bare_shaft_reason)}.</Note>;
  return <Note>{readsAs(of, view.hand)} The model is unfitted: try reversible changes first, and a borrowed shaft before you buy or cut.</Note>;
}

function Numbers({ view, changed, shown }: { view: TargetView; changed: boolean; shown: number }) {
  const comma = useComma();
  const at = view.distances[shown]!;
  const rows: Compared[] = [at.bare, at.right, at.up, at.speed, at.drift, ...view.quantities];
  return (
    <>
      <details>
        <summary>Every number, before and after</summary>
        <p class="doubt">{view.exact ? `In brackets: where 90 % of ${view.plausible_setups} plausible set-ups lie. A change is taken set-up by set-up, so that what they share cancels; trust it more than the values.` : "A quick look: the doubt follows."} At {at.distance.text}, right and up positive.</p>
        <div class="scroll" tabIndex={0} role="region" aria-label="Every number, before and after">
          <table>
            <thead><tr><th scope="col">what</th><th scope="col">as set up</th>{changed && <><th scope="col">after</th><th scope="col">change</th></>}</tr></thead>
            <tbody>{rows.map((r) => (
              <tr key={r.name}>
                <th scope="row">{r.label}</th><Cell of={r.now} />{changed && <><Cell of={r.after} /><Cell of={r.change} /></>}
              </tr>
            ))}</tbody>
          </table>
        </div>
      </details>
      {view.exact && <details>
        <summary>Against the distance</summary>
        {view.figures.map((f) => <Chart key={f.title} figure={f} comma={comma} />)}
      </details>}
      <details>
        <summary>What it rests on</summary>
        <ul class="plain">{view.notes.map((n) => <li key={n}>{n}</li>)}</ul>
        <p class="doubt">Height is from speed, mass and drag alone: string, limbs and nocking point in the vertical plane are not in it.</p>
      </details>
    </>
  );
}

const Cell = ({ of }: { of: Compared["now"] }) => <td class="num">{of.text}<br /><span class="doubt">({of.doubt})</span></td>;
