import { useEffect, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useDraft } from "../lib/draft";
import { api, post, put, sentence, type Problem } from "../lib/http";
import { asProblem, useGet, useSettled } from "../lib/load";
import { useComma } from "../lib/me";
import { replace, useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { Chart, type Figure } from "../ui/chart";
import { Note } from "../ui/field";
import { Answer, Waits, Wrong } from "../ui/states";
import { AskForm, askOf, unasked, type Asked } from "./askform";
import { Planned } from "./planned";
import type { Plan } from "./types";
import { countOf } from "./words";

// PlanPage asks what a person decides of a brace-height trial, shows at once
// what follows from it, and begins the trial.
export function PlanPage({ bowId }: { bowId: string }) {
  const bow = useGet<BowView>(`/bows/${bowId}`);
  useBow(bow.value);
  useTitle("Plan a brace-height trial");
  return (
    <>
      <h1>Plan a brace-height trial</h1>
      <Answer of={bow} what="Opening the bow …">{(view) => (view.setup ? <Planning view={view} setup={view.setup.setup.id} /> : <NoSetUp bowId={bowId} />)}</Answer>
    </>
  );
}

function NoSetUp({ bowId }: { bowId: string }) {
  return (
    <div class="card">
      <p>A trial needs the bow's settings first: draw length, draw weight and brace height, and the limb maker's brace-height range.</p>
      <a class="button main" href={`/bows/${bowId}`}>Enter the settings</a>
    </div>
  );
}

function Planning({ view, setup }: { view: BowView; setup: string }) {
  const [asked, setAsked, forget] = useDraft<Asked>(`plan:${view.bow.id}`, { ...unasked, id: uuidv7() });
  const needsRange = view.brace.state === "no-range" || !view.brace.low;
  const { plan, problem, busy, lacks } = usePlan(setup, asked, needsRange);
  const [begun, setBegun] = useState<Problem | "busy" | null>(null);

  // About nine stops: what an evening holds, and enough to tell a spot by.
  const step = Math.min(20, Math.ceil(((countOf(asked.turns) || 3) * (plan?.stops.length ?? 9)) / 9));
  const coarser = asked.order === "abba" ? undefined : () => setAsked((now) => ({ ...now, turns: String(step) }));

  const begin = (then: (id: string) => string) => {
    setBegun("busy");
    put(`${api}/trials/${asked.id}`, { setup, ask: askOf(asked).ask }).then(
      () => { forget(); replace(then(asked.id)); },
      (e: unknown) => setBegun(asProblem(e)),
    );
  };
  return (
    <>
      <p>From one end of the limb maker's range to the other, in steps of a few string turns, some arrows on a blank bale at each. You measure, shoot and listen; the verdict says whether a brace height stands out, and how sure that is.</p>
      {view.open_trial && (
        <Note kind="warn">
          A trial of this bow is not finished. <a href={`/trials/${view.open_trial.id}`}>Go on with it</a>, or plan another one here.
        </Note>
      )}
      <AskForm asked={asked} set={setAsked} needsRange={needsRange} problem={problem} plan={plan} />
      {problem && !plan && <Refused problem={problem} bowId={view.bow.id} />}
      {problem && plan && <Note kind="warn">The plan below is the last one that worked. {problem.fields[0] ? sentence(problem.fields[0]) : problem.message}</Note>}
      {plan && lacks && <Note kind="warn">The plan below is the last one that worked. The next one comes as soon as {lacks}.</Note>}
      {!plan && !problem && (lacks ? <p class="faint">The stops appear here as soon as {lacks} above.</p> : <Waits what="Working out the stops …" />)}
      {plan && (
        <>
          <div aria-busy={busy}><Planned plan={plan} coarser={coarser} /></div>
          {begun && begun !== "busy" && <Wrong problem={begun} />}
          <div class="begin no-print">
            <button type="button" class="main" disabled={busy || lacks !== undefined || begun === "busy" || problem !== undefined} onClick={() => begin((id) => `/trials/${id}`)}>
              {begun === "busy" ? "Beginning …" : "Begin the trial"}
            </button>
            <button type="button" disabled={busy || lacks !== undefined || begun === "busy" || problem !== undefined} onClick={() => begin((id) => `/sheets/plan/${id}`)}>Begin and print the pencil card</button>
          </div>
          <Pictures setup={setup} plan={plan} />
        </>
      )}
    </>
  );
}

// usePlan asks for the plan once the typing rests; the last one stays until
// the next. It says what the form lacks while it cannot ask.
function usePlan(setup: string, asked: Asked, needsRange: boolean) {
  const { id: _, ...wishes } = asked;
  const now = JSON.stringify([setup, wishes]);
  const key = useSettled(now, 400);
  const { ask, bad } = askOf(asked);
  const lacks = needsRange && (!asked.low || !asked.high) ? "the limb maker's brace-height range is typed" : bad.size > 0 ? "every field can be read" : undefined;
  const [held, setHeld] = useState<{ key: string; plan?: Plan; problem?: Problem }>({ key: "" });
  useEffect(() => {
    if (lacks) return;
    const stop = new AbortController();
    post<Plan>(`${api}/trials/plan`, { setup, ask }, stop.signal).then(
      (plan) => setHeld({ key, plan }),
      (e: unknown) => { if (!stop.signal.aborted) setHeld((now) => ({ key, plan: now.plan, problem: asProblem(e) })); },
    );
    return () => stop.abort();
  }, [key]);
  return { plan: held.plan, problem: held.problem, busy: !lacks && held.key !== now, lacks };
}

// Refused says what the plan lacks, and where to enter it.
function Refused({ problem, bowId }: { problem: Problem; bowId: string }) {
  return (
    <>
      <Wrong problem={problem} />
      {!problem.offline && <p><a class="button" href={`/bows/${bowId}`}>Look at the bow's settings</a></p>}
    </>
  );
}

// Pictures shows what the model expects over the span the string reaches.
function Pictures({ setup, plan }: { setup: string; plan: Plan }) {
  const comma = useComma();
  const [figures, setFigures] = useState<Figure[]>([]);
  const key = `${setup}|${plan.low.si}|${plan.high.si}`;
  useEffect(() => {
    const stop = new AbortController();
    const metres = (v: number) => `${v.toFixed(5)} m`;
    post<{ figures: Figure[] }>(`${api}/sweep`, { setup, from: metres(plan.low.si), to: metres(plan.high.si), steps: 9 }, stop.signal).then(
      (view) => setFigures(view.figures),
      () => setFigures([]), // the table above says the same in numbers
    );
    return () => stop.abort();
  }, [key]);
  if (figures.length === 0) return null;
  const first = figures.filter((f) => f.y.label === "arrow speed" || f.y.label === "energy left behind");
  const rest = figures.filter((f) => !first.includes(f));
  return (
    <section>
      <h2>What the model expects over the range</h2>
      <div class="two">{first.map((f) => <div class="card" key={f.title}><Chart figure={f} comma={comma} /></div>)}</div>
      {rest.length > 0 && (
        <Later title="More pictures: weight, energy, time, string">
          <div class="two">{rest.map((f) => <div class="card" key={f.title}><Chart figure={f} comma={comma} /></div>)}</div>
        </Later>
      )}
    </section>
  );
}

// Later draws what it holds only once it is opened: a picture in a closed
// fold has no width to be drawn in.
export function Later({ title, children }: { title: string; children: preact.ComponentChildren }) {
  const [open, setOpen] = useState(false);
  return (
    <details onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>{title}</summary>
      {open && children}
    </details>
  );
}
