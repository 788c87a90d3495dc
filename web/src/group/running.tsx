import type { ComponentChildren } from "preact";
import { api, post, told } from "../lib/http";
import { useLoaded, useSettled } from "../lib/load";
import { Waits } from "../ui/states";
import type { ShownEnd } from "./ends";
import type { Plot } from "./plotstate";
import { spreadsOf } from "./spread";
import type { Group, Impact, Ranged } from "./types";
import { useFaceLength } from "./words";

// Running is what the arrows so far tell: the plain spread with its interval,
// which with few arrows is wide and says so. Out of the notebook's reach it is
// worked out here; what rings alone tell, and what so many arrows can see,
// then waits.
export function Running({ ends, plot }: { ends: ShownEnd[]; plot: Plot }) {
  const impacts = useSettled(JSON.stringify(together(ends, plot)), 500);
  const groups = useLoaded<{ groups: Group[] }>(impacts === "[]" ? null : `${impacts}|${plot.face}|${plot.distance}`, (signal) =>
    post(`${api}/groups/describe`, { impacts: JSON.parse(impacts) as Impact[], face: plot.face, ...(plot.distance.trim() && { distance: plot.distance }) }, signal));
  if (impacts === "[]") return null;
  return (
    <section class="card" aria-label="Spread so far">
      <h2>Spread so far</h2>
      {groups.value ? groups.value.groups.map((g) => <Described key={g.kind} g={g} many={groups.value!.groups.length > 1} />)
        : groups.problem?.offline ? <Here impacts={JSON.parse(impacts) as (Impact & { end: number })[]} />
          : groups.problem ? <p class="faint">{told(groups.problem)}</p> : <Waits what="Computing…" />}
    </section>
  );
}

// together are all arrows shot like the open end, each with its end's own
// number.
function together(ends: ShownEnd[], plot: Plot): (Impact & { end: number })[] {
  const like = ends.filter((s) => s.end.setup === plot.setup && (s.end.face || "blank") === plot.face && (s.end.distance ?? "") === plot.distance.trim() && s.end.id !== plot.open.corrects);
  return [...like.map((s) => s.end.impacts), plot.open.impacts].flatMap((list, k) => list.map((i) => ({ ...i, end: k + 1 })));
}

// Here is the spread worked out on this device.
function Here({ impacts }: { impacts: (Impact & { end: number })[] }) {
  const length = useFaceLength(), list = spreadsOf(impacts);
  return (
    <>
      {list.map((s) => (
        <Spread key={s.kind} kind={s.kind} many={list.length > 1} {...wordsOf(s.sigma, length)} arrows={s.arrows} ends={s.ends}>
          {s.arrows === 0 ? "What the rings alone tell, the notebook works out when it answers." : "At least two arrows of one end with a place are needed."}
        </Spread>
      ))}
      <p class="small">Worked out on this device, without the notebook.</p>
    </>
  );
}

function wordsOf({ value, low, high }: Ranged, length: (m: number) => string) {
  if (value === null || low === null || high === null) return {};
  const [from, unit] = length(low).split(" "), to = length(high);
  return { text: length(value), doubt: unit === to.split(" ")[1] ? `${from} to ${to}` : `${length(low)} to ${to}` };
}

function Described({ g, many }: { g: Group; many: boolean }) {
  const sigma = g.shown.find((s) => s.name === "sigma");
  return (
    <>
      <Spread kind={g.kind} many={many} text={sigma?.text} doubt={sigma?.doubt} arrows={g.n_arrows} ends={g.ends}>{g.sentences[0] ?? "At least three arrows with a place are needed."}</Spread>
      {sigma && <p class="small">{g.can_see}</p>}
    </>
  );
}

interface SpreadProps { kind: "fletched" | "bare"; many: boolean; text?: string; doubt?: string; arrows: number; ends: number; children: ComponentChildren }

function Spread({ kind, many, text, doubt, arrows, ends, children }: SpreadProps) {
  return (
    <div>
      {many && <h3>{kind === "bare" ? "Bare shafts" : "Fletched arrows"}</h3>}
      {text
        ? <p><span class="big num">{text}</span><br /><span class="doubt num">{doubt} (95 %), one axis, from {arrows} arrows in {ends} {ends === 1 ? "end" : "ends"}</span></p>
        : <p><strong>Cannot tell yet.</strong> {children}</p>}
    </div>
  );
}
