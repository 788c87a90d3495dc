import { useState } from "preact/hooks";
import { api, get } from "../lib/http";
import { useTitle } from "../lib/route";
import { when } from "../lib/words";
import { Note } from "../ui/field";
import { Answer } from "../ui/states";
import { Computing, usePolled } from "../standing/poll";

interface Result { id: string; label: string; sentence: string; at: string }
interface Due { state: string; text: string; shots?: number }
interface WeekBow {
  bow: string; name: string; setup?: string; wants: boolean; judged: boolean;
  drifted: { kind: string; label: string; state: string; since: string }[];
  stale: Result[]; check: Result[]; string: Due; draw_length?: Due; next?: string;
  measure_next?: { name: string; minutes: number; left_share: number };
}
interface WeekArcher { person: string; name: string; bows: WeekBow[]; card: string }
interface Week { state: "computing" | "done" | "failed"; share: number; archers: WeekArcher[]; bows: number; bows_computing: number; list: string; rules: string }

// WeekPage is the bench across archers: what each bow wants this week.
export function WeekPage() {
  useTitle("The week");
  const week = usePolled<Week>("week", (signal) => get<Week>(`${api}/week`, signal));
  const [all, setAll] = useState(false);
  return (
    <>
      <p class="crumb"><a href="/">Bench</a></p>
      <h1>The week</h1>
      <p class="lead">What the bows want that you look after: what drifted, which old results no longer count, what falls due, and the next thing to do.</p>
      <Answer of={week} what="Going through the bows…">
        {(w) => {
          const shown = w.archers.map((a) => ({ ...a, bows: a.bows.filter((b) => all || b.wants || !b.judged) })).filter((a) => a.bows.length > 0);
          const quiet = w.bows - shown.reduce((n, a) => n + a.bows.length, 0);
          return (
            <>
              {w.state === "computing" && <Computing what={`Judging old results; bows still to do: ${w.bows_computing}.`} of={w} />}
              {w.bows === 0 && <Note>No bow yet. Archers share theirs with you on the page <a href="/people">People</a>.</Note>}
              {w.bows > 0 && <p class="row no-print"><a class="button" href={w.list}>List to print</a>
                <button type="button" class="quiet" aria-pressed={all} onClick={() => setAll(!all)}>{all ? "Only those that want something" : "Show every bow"}</button></p>}
              {shown.map((a) => <Archer key={a.person} of={a} />)}
              {quiet > 0 && <p class="faint">Nothing is due on {quiet === 1 ? "one bow" : `${quiet} bows`} more.</p>}
              <p class="help">{w.rules}</p>
            </>
          );
        }}
      </Answer>
    </>
  );
}

function Archer({ of }: { of: WeekArcher }) {
  return (
    <section>
      <div class="row spread head"><h2>{of.name || "Archer"}</h2><a class="button" href={of.card}>Card to print</a></div>
      <div class="cards">{of.bows.map((b) => <Bow key={b.bow} of={b} />)}</div>
    </section>
  );
}

function Bow({ of }: { of: WeekBow }) {
  const due = (d?: Due) => d && (d.state === "due" || d.state === "look" || d.state === "soon");
  return (
    <article class="card">
      <h3><a href={`/bows/${of.bow}`}>{of.name}</a></h3>
      <ul class="lines sentences">
        {of.drifted.map((d) => <li key={d.kind}><a href={`/bows/${of.bow}/upkeep`}>{d.label}</a>: its check readings {d.state === "shifted" ? "left their own scatter" : "drift"} since {when(d.since)}.</li>)}
        {due(of.draw_length) && <li><strong>Draw length:</strong> {of.draw_length!.text}</li>}
        {due(of.string) && <li><strong>String:</strong> {of.string.text}</li>}
        {of.stale.map((r) => <li key={r.id}><strong>Measure again:</strong> <a href={`/bows/${of.bow}/standing`}>{r.label}</a>. {r.sentence}</li>)}
        {of.check.map((r) => <li key={r.id}>One reading settles <a href={`/bows/${of.bow}/standing`}>{r.label}</a>.</li>)}
        {!of.judged && <li class="faint">Whether old results still count: cannot tell yet.</li>}
      </ul>
      {of.next && <p><strong>Next:</strong> {of.next}</p>}
      {of.measure_next
        ? <p class="small">To know this bow better: {of.measure_next.name} (about {of.measure_next.minutes} min); it leaves {Math.round(100 * of.measure_next.left_share)} % of the doubt.</p>
        : of.judged && of.setup && <p class="small faint">What would tell most of this bow cannot be said yet: <a href={`/bows/${of.bow}/fit`}>no fit of it is kept</a>.</p>}
      {due(of.draw_length) && <p><a class="button" href={`/bows/${of.bow}?note=draw_length`}>Note the draw length</a></p>}
    </article>
  );
}
