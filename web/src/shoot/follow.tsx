import { useEffect, useState } from "preact/hooks";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { go } from "../lib/route";
import type { BowView, SetUpView } from "../lib/types";
import { when } from "../lib/words";
import { PlotArea } from "../group/plot";
import type { ShownEnd } from "../group/ends";
import type { Face } from "../group/types";
import { Cautions } from "../trial/planned";
import { useQuery } from "../trial/query";
import { sendEvent } from "../trial/send";
import { Note } from "../ui/field";
import { Wrong } from "../ui/states";
import { minutes } from "../trial/words";
import type { ShootView, Step } from "./types";

export interface Following { view: ShootView; bow: BowView; faces: Face[]; setups: SetUpView[]; ends: ShownEnd[]; again: () => void }

// FollowPage takes a person through a plan at the range, one stop at a time:
// what to set, how many to shoot in, and the face to plot the arrows on.
export function FollowPage(p: Following) {
  const { view, ends } = p, { steps } = view.plan;
  const asked = useQuery("stop");
  const [begin] = useState(() => firstOpen(view, ends));
  const at = asked === "" ? begin : Number(asked);
  const step = steps[at];
  const ended = view.state === "finished" || view.state === "abandoned";
  return (
    <>
      <Progress view={view} ends={ends} at={at} />
      {ended && <Note>This trial is {view.state}. What you note now still joins it. <a href={`/trials/${view.id}?view=verdict`}>Read the verdict</a></Note>}
      {view.state === "paused" && view.paused && <Note>You left this trial {when(view.paused)}. Set the bow as below and go on.</Note>}
      {step ? <Stop key={at} {...p} step={step} /> : <div class="card"><h2>Every stop is shot.</h2><a class="button main" href={`/trials/${view.id}?view=verdict`}>Read the verdict</a></div>}
      {!ended && <Leave view={view} left={steps.length - shotStops(view, ends).size} />}
      <Cautions list={view.plan.cautions} />
    </>
  );
}

// shotStops are the stops at which arrows are noted.
export const shotStops = (view: ShootView, ends: ShownEnd[]): Set<number> => new Set(ends.filter((e) => e.end.trial === view.id).map((e) => e.end.stop ?? -1));

function firstOpen(view: ShootView, ends: ShownEnd[]): number {
  const shot = shotStops(view, ends);
  const open = view.plan.steps.findIndex((s) => !shot.has(s.position));
  return open < 0 ? view.plan.steps.length : open;
}

function Progress({ view, ends, at }: { view: ShootView; ends: ShownEnd[]; at: number }) {
  const shot = shotStops(view, ends);
  return (
    <ol class="progress no-print" aria-label="Stops">
      {view.plan.steps.map((s) => (
        <li key={s.position}>
          <a href={`/trials/${view.id}?stop=${s.position}`} class={shot.has(s.position) ? "measured" : ""} aria-current={s.position === at ? "step" : undefined}
            aria-label={`Stop ${s.position + 1}, ${s.label}: ${shot.has(s.position) ? "shot" : "to do"}`}>
            {s.short}{shot.has(s.position) && <sup aria-hidden="true">✓</sup>}
          </a>
        </li>
      ))}
    </ol>
  );
}

function Stop({ view, bow, faces, setups, ends, again, step }: Following & { step: Step }) {
  const next = view.plan.steps[step.position + 1];
  const [count, setCount] = useState(0);
  const [problem, setProblem] = useState<Problem>();
  useEffect(() => { if (count > 0) again(); }, [count]);
  const shot = shotStops(view, ends).has(step.position) || count > 0;
  const onward = () => void sendEvent(view.id, "reached", step.position + 1).then(() => go(`/trials/${view.id}?stop=${step.position + 1}`), (e: unknown) => setProblem(asProblem(e)));
  return (
    <>
      <section class="card stop" aria-label={`Stop ${step.position + 1}`}>
        <p class="faint">Stop {step.position + 1} of {view.plan.steps.length}{step.block > 0 && `, ${view.plan.blockName} ${step.block}`}, {minutes(step.minutes)}</p>
        <h2 class="big order">{step.order}</h2>
        <p>{step.settling > 0 && <>Shoot {step.settling} to settle; they do not count. </>}Then shoot <strong>{step.arrows}</strong> and plot them{step.bare ? ", the bare shafts as bare" : ""}.</p>
        {step.note && <p>{step.note}</p>}
        {problem && <Wrong problem={problem} />}
        {shot && (next
          ? <button type="button" class="main" onClick={onward}>Next stop: {next.order}</button>
          : <a class="button main" href={`/trials/${view.id}?view=verdict`}>That was the last stop: read the verdict</a>)}
      </section>
      <PlotArea bow={bow} draft={`plot:${view.id}:${step.position}`} to={{ bow: view.bow, trial: view.id, stop: step.position }} onEnds={(list) => setCount(list.length)}
        given={{ setup: step.setup, perEnd: String(step.arrows), distance: step.distance ?? view.distance, face: step.face ?? view.face, bare: step.bare }} faces={faces} setups={setups} sessions={[]} />
    </>
  );
}

// Leave ends the day or the trial; nothing is lost by either.
function Leave({ view, left }: { view: ShootView; left: number }) {
  const [problem, setProblem] = useState<Problem>();
  const leave = (what: string, to: string) => void sendEvent(view.id, what).then(() => go(to), (e: unknown) => setProblem(asProblem(e)));
  return (
    <section class="row no-print leave" aria-label="Leave the trial">
      {problem && <Wrong problem={problem} />}
      <button type="button" class="quiet" onClick={() => leave("paused", `/bows/${view.bow}`)}>Leave it for today</button>
      {left === view.plan.steps.length
        ? <button type="button" class="quiet" onClick={() => leave("abandoned", `/bows/${view.bow}`)}>Give this trial up</button>
        : <button type="button" class="quiet" onClick={() => leave("finished", `/trials/${view.id}?view=verdict`)}>{left === 0 ? "Finish" : `Finish with ${left} ${left === 1 ? "stop" : "stops"} left`}</button>}
    </section>
  );
}
