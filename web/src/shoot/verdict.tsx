import { VerdictPicture } from "../group/verdictpicture";
import { useLoaded } from "../lib/load";
import { useComma } from "../lib/me";
import { capital } from "../lib/words";
import { Chart } from "../ui/chart";
import { Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { askVerdict } from "./api";
import type { ShootView } from "./types";

// ShootVerdict gives the trial's answer as it stands now: the words first, as
// large for "cannot tell yet" as for any other, then what it rests on.
export function ShootVerdict({ view, seen, unsent }: { view: ShootView; seen: string; unsent: boolean }) {
  const verdict = useLoaded(`${view.id}|${seen}`, (signal) => askVerdict(view.id, signal));
  const comma = useComma();
  const v = verdict.value;
  if (!v) return verdict.problem ? <Wrong problem={verdict.problem} again={verdict.again} /> : <Waits what="Weighing the arrows…" />;
  return (
    <>
      {unsent && <Note kind="warn">Some ends are still on this device only; the verdict does not know them yet.</Note>}
      <section class="card verdict" aria-label="Verdict">
        {v.comparison ? <VerdictPicture c={v.comparison} a={view.plan.ask.a ? `A, ${view.plan.ask.a},` : "A"} b={view.plan.ask.b ? `B, ${view.plan.ask.b},` : "B"} /> : <div class="outcome"><h2 class="big">{capital(v.outcome)}</h2></div>}
        <p class="answer">{v.text}</p>
        {v.would_change.length > 0 && <><h3>What would change this</h3><ul>{v.would_change.map((w) => <li key={w}>{capital(w)}</li>)}</ul></>}
      </section>
      {v.warnings.length > 0 && <Note kind="warn"><strong>Before you trust it</strong><ul>{v.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
      {v.figures.length > 0 && <section aria-label="Pictures"><div class="two">{v.figures.map((f) => <div class="card" key={f.title}><Chart figure={f} comma={comma} /></div>)}</div></section>}
      {v.assumptions.length > 0 && <details><summary>What this assumes</summary><ul>{v.assumptions.map((a) => <li key={a}>{capital(a)}</li>)}</ul></details>}
    </>
  );
}
