import type { ShownEnd } from "../group/ends";
import { Answers, VerdictPicture, type Answered } from "../group/verdictpicture";
import type { Winner } from "../group/types";
import { useLoaded } from "../lib/load";
import { useComma } from "../lib/me";
import { capital, number } from "../lib/words";
import { enough } from "../trial/pairs";
import { Keep } from "../trial/verdict";
import { Chart } from "../ui/chart";
import { Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { askVerdict, type Verdict } from "./api";
import { BarePicture } from "./bare";
import { decisionOf, useMore } from "./decision";
import { Effects } from "./effects";
import { figuresOf } from "./figures";
import { moreWords } from "./stopnow";
import type { ShootView } from "./types";

// possible are the answers a kind of trial can give; each shows all of them.
const possible: Record<string, Answered[]> = {
  "one setting": [["best_inside", "∪", "best inside"], ["best_beyond", "→", "look further"], ["no_difference", "=", "no difference seen"], ["cannot_tell", "?", "cannot tell yet"]],
  "settings": [["best_inside", "∪", "best inside"], ["direction", "→", "one way is better"], ["cannot_tell", "?", "cannot tell yet"]],
  "sham": [["felt", "!", "the change is felt"], ["cannot_tell", "?", "cannot tell yet"]],
  "bare shaft": [["height", "↕", "height first"], ["side", "↔", "now the side"], ["nothing", "=", "nothing to do"], ["more_shafts", "?", "cannot tell yet: more shafts"], ["more_arrows", "?", "cannot tell yet: more arrows"]],
  "nocking point by bare shaft": [["move", "↕", "move it"], ["leave", "=", "leave it"], ["touches", "!", "the tail touches"], ["ask", "?", "look first"], ["cannot_tell", "?", "cannot tell yet"]],
  "tiller by hold and group": [["held_steadiest", "✓", "one holds steadiest"], ["best_inside", "∪", "best group inside"], ["cannot_tell", "?", "cannot tell yet"]],
  "walk-back": [["upright", "|", "upright"], ["slanted", "/", "slanted"], ["curved", "(", "curved"], ["cannot_tell_yet", "?", "cannot tell yet"]],
};

const winners: Record<string, Winner> = { a_tighter: "A tighter", b_tighter: "B tighter" };

interface Props { view: ShootView; ends: ShownEnd[]; seen: string; unsent: boolean }

// ShootVerdict gives the trial's answer as it stands now: the answer first, as
// large for "cannot tell yet" as for any other, then what it rests on.
export function ShootVerdict({ view, ends, seen, unsent }: Props) {
  const got = useLoaded(`${view.id}|${seen}`, (signal) => askVerdict(view.id, signal));
  const v = got.value;
  if (!v) return got.problem ? <><HereNow view={view} ends={ends} /><Wrong problem={got.problem} again={got.again} /></> : <Waits what="Weighing the arrows…" />;
  return (
    <>
      {unsent && <Note kind="warn">Some ends are still on this device only; the verdict does not know them yet.</Note>}
      <section class="card verdict" aria-label="Verdict">
        <h2>The answer so far</h2>
        <Answer v={v} view={view} />
        <p class="answer">{v.text}</p>
        {v.arrows_more !== null && v.arrows_more > 0 && <p><span class="big num">{v.arrows_more}</span> more arrows would be needed to tell.</p>}
        <p><strong>Next:</strong> {v.next}.</p>
        <p class="doubt">From {v.n_arrows} arrows with a place, {v.steps_shot} of {v.steps_planned} stops.</p>
        {v.would_change.length > 0 && <><h3>What would change this</h3><ul>{v.would_change.map((w) => <li key={w}>{capital(w)}</li>)}</ul></>}
      </section>
      {v.warnings.length > 0 && <Note kind="warn"><strong>Before you trust it</strong><ul>{v.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
      <Keep<Verdict> key={v.inputs} id={view.id} words={(kept) => kept.text} />
      <Behind v={v} view={view} ends={ends} />
      {v.assumptions.length > 0 && <details><summary>What this assumes</summary><ul>{v.assumptions.map((a) => <li key={a}>{capital(a)}</li>)}</ul></details>}
    </>
  );
}

// HereNow is what this device can tell of a comparison in pairs while the
// notebook does not answer.
function HereNow({ view, ends }: { view: ShootView; ends: ShownEnd[] }) {
  const now = decisionOf(view.plan, ends), more = useMore(view.plan, ends, now), comma = useComma();
  if (!now) return null;
  return (
    <section class="card verdict" aria-label="What this device can tell">
      <h2>The answer so far, worked out on this device</h2>
      <VerdictPicture c={{ verdict: now.verdict, sigma_ratio: now.ratio }} a="A" b="B" />
      <p>Evidence {number(now.evidence, 1, comma)} from {now.pairs} {now.pairs === 1 ? "pair" : "pairs"} and {now.arrows[0]} and {now.arrows[1]} arrows; {enough} decides.{now.verdict === "cannot tell yet" && moreWords(more)} The whole verdict follows from the notebook.</p>
    </section>
  );
}

function Answer({ v, view }: { v: Verdict; view: ShootView }) {
  const list = possible[v.what];
  if (list) {
    const here = list.some(([k]) => k === v.outcome) ? v.outcome : v.outcome === "cannot_tell" ? list.at(-1)![0] : "";
    return <Answers list={list} here={here} />;
  }
  const ratio = v.comparison?.sigma_ratio ?? v.effects.find((e) => e.name === "sigma_ratio") ?? { value: null, low: null, high: null };
  const { a, b } = view.plan.ask;
  return <VerdictPicture c={{ verdict: winners[v.outcome] ?? "cannot tell yet", sigma_ratio: ratio }} a={a ? `A (${a})` : "A"} b={b ? `B (${b})` : "B"} />;
}

// Behind shows the pictures and every size with its interval.
function Behind({ v, view, ends }: { v: Verdict; view: ShootView; ends: ShownEnd[] }) {
  const comma = useComma(), figures = figuresOf(v, view.plan, ends);
  return (
    <>
      {view.plan.kind === "bare_shaft" && <BarePicture v={v} />}
      {figures.length > 0 && <section aria-label="Pictures"><div class="two">{figures.map((f) => <div class="card" key={f.title}><Chart figure={f} comma={comma} /></div>)}</div></section>}
      {v.effects.length > 0 && (
        <section class="card" aria-label="Every size with its interval">
          <h2>Every size with its interval</h2>
          <Effects list={v.effects} />
          <p class="doubt">95 % intervals, against the dashed line of nothing. ✓: clear of it. ?: it crosses. Without either: a description, with no interval to give.</p>
        </section>
      )}
    </>
  );
}
