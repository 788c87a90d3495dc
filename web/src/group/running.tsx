import { api, post, told } from "../lib/http";
import { useLoaded, useSettled } from "../lib/load";
import { Waits } from "../ui/states";
import type { ShownEnd } from "./ends";
import type { Plot } from "./plotstate";
import type { Group, Impact } from "./types";

// Running is what the arrows so far tell: the plain spread with its interval,
// which with few arrows is wide and says so. The notebook computes it, so out
// of its reach there is none.
export function Running({ ends, plot }: { ends: ShownEnd[]; plot: Plot }) {
  const impacts = useSettled(JSON.stringify(together(ends, plot)), 500);
  const groups = useLoaded<{ groups: Group[] }>(impacts === "[]" ? null : `${impacts}|${plot.face}|${plot.distance}`, (signal) =>
    post(`${api}/groups/describe`, { impacts: JSON.parse(impacts) as Impact[], face: plot.face, ...(plot.distance.trim() && { distance: plot.distance }) }, signal));
  if (impacts === "[]") return null;
  return (
    <section class="card" aria-label="Spread so far">
      <h2>Spread so far</h2>
      {groups.value ? groups.value.groups.map((g) => <Spread key={g.kind} g={g} many={groups.value!.groups.length > 1} />)
        : groups.problem ? <p class="faint">{groups.problem.offline ? "No spread now: the notebook computes it and does not answer. The arrows are kept." : told(groups.problem)}</p> : <Waits what="Computing…" />}
    </section>
  );
}

// together are all arrows shot like the open end, each with its end's own
// number.
function together(ends: ShownEnd[], plot: Plot): (Impact & { end: number })[] {
  const like = ends.filter((s) => s.end.setup === plot.setup && (s.end.face || "blank") === plot.face && (s.end.distance ?? "") === plot.distance.trim() && s.end.id !== plot.open.corrects);
  return [...like.map((s) => s.end.impacts), plot.open.impacts].flatMap((list, k) => list.map((i) => ({ ...i, end: k + 1 })));
}

function Spread({ g, many }: { g: Group; many: boolean }) {
  const sigma = g.shown.find((s) => s.name === "sigma");
  return (
    <div>
      {many && <h3>{g.kind === "bare" ? "Bare shafts" : "Fletched arrows"}</h3>}
      {sigma
        ? <p><span class="big num">{sigma.text}</span><br /><span class="doubt num">{sigma.doubt} (95 %), one axis, from {g.n_arrows} arrows in {g.ends} {g.ends === 1 ? "end" : "ends"}</span></p>
        : <p><strong>Cannot tell yet.</strong> {g.sentences[0] ?? "At least three arrows with a place are needed."}</p>}
      {sigma && <p class="small">{g.can_see}</p>}
    </div>
  );
}
