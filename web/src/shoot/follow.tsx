import { useEffect, useState } from "preact/hooks";
import type { ShownEnd } from "../group/ends";
import { PlotArea } from "../group/plot";
import type { Face } from "../group/types";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { useComma } from "../lib/me";
import { go } from "../lib/route";
import type { BowView, SetUpView } from "../lib/types";
import { capital, number, when } from "../lib/words";
import { Cautions } from "../trial/planned";
import { useQuery } from "../trial/query";
import { leaveTrial, sendEvent } from "../trial/send";
import { minutes } from "../trial/words";
import { Note } from "../ui/field";
import { Wrong } from "../ui/states";
import { FeelStop } from "./feel";
import { blockName } from "./planned";
import { StopNow } from "./stopnow";
import type { ShootView, Step } from "./types";

export interface Following { view: ShootView; bow: BowView; faces: Face[]; setups: SetUpView[]; shot: Set<number>; ends: ShownEnd[]; again: () => void }

// FollowPage takes a person through a plan at the range, one stop at a time:
// what to set, how many to shoot, and the face to plot the arrows on.
export function FollowPage(p: Following) {
  const { view, shot } = p, { steps } = view.plan;
  const asked = useQuery("stop");
  const [begin] = useState(() => firstOpen(view, shot));
  const at = asked === "" ? begin : Number(asked);
  const step = steps[at];
  const ended = view.state === "finished" || view.state === "abandoned";
  return (
    <>
      <Progress view={view} shot={shot} at={at} />
      {ended && <Note>This trial is {view.state}. What you note now still joins it. <a href={`/trials/${view.id}?view=verdict`}>Read the verdict</a></Note>}
      {view.state === "paused" && view.left && <Note>You left this trial {when(view.left)}. Set the bow as below and go on.</Note>}
      {step ? <Stop key={at} {...p} step={step} /> : <div class="card"><h2>Every stop is shot.</h2><a class="button main" href={`/trials/${view.id}?view=verdict`}>Read the verdict</a></div>}
      {!ended && <Leave view={view} left={steps.length - shot.size} />}
      <Cautions list={view.plan.cautions} />
    </>
  );
}

function firstOpen(view: ShootView, shot: Set<number>): number {
  const open = view.plan.steps.findIndex((s) => !shot.has(s.position));
  return open < 0 ? view.plan.steps.length : open;
}

// Progress is every stop by its place in the order; the helper's secret is not
// among what it shows.
function Progress({ view, shot, at }: { view: ShootView; shot: Set<number>; at: number }) {
  const { steps } = view.plan;
  return (
    <details class="no-print" open={steps.length <= 12}>
      <summary>{shot.size} of {steps.length} stops shot</summary>
      <ol class="progress" aria-label="Stops">
        {steps.map((s) => (
          <li key={s.position}>
            <a href={`/trials/${view.id}?stop=${s.position}`} class={shot.has(s.position) ? "measured" : ""} aria-current={s.position === at ? "step" : undefined}
              aria-label={`Stop ${s.position + 1}${view.plan.hidden ? "" : `, ${s.label}`}: ${shot.has(s.position) ? "shot" : "to do"}`}>
              {s.position + 1}{shot.has(s.position) && <sup aria-hidden="true">✓</sup>}
            </a>
          </li>
        ))}
      </ol>
    </details>
  );
}

// given is what the plan says of how an end is shot: what is left to a person
// is taken over from the stop before.
export function given(view: ShootView, step: Step, ends: ShownEnd[], comma: boolean) {
  const { ask, kind } = view.plan, last = ends.at(-1)?.end;
  const far = step.distance_m ? `${number(step.distance_m, step.distance_m % 1 ? 1 : 0, comma)} m` : ask.distance ?? last?.distance;
  const shafts = ask.bare_shafts ?? 0, bare = kind === "bare_shaft" || kind === "nocking";
  return {
    setup: view.setup, perEnd: String(step.arrows), ...(far && { distance: far }), face: last?.face ?? (kind === "walk_back" ? "blank" : bare ? "40" : "122"),
    ...(kind === "walk_back" && { span: 2.4 }), // the arrows fall with the distance
    ...(bare && { numbers: `1-${step.arrows}`, bareFrom: step.arrows - shafts + 1 }),
  };
}

function Stop({ view, bow, faces, setups, shot, ends, again, step }: Following & { step: Step }) {
  const next = view.plan.steps[step.position + 1], comma = useComma();
  const [count, setCount] = useState(0);
  const [problem, setProblem] = useState<Problem>();
  useEffect(() => { if (count > 0) again(); }, [count]);
  const done = shot.has(step.position) || count > 0;
  const onward = () => void sendEvent(view.id, "reached", step.position + 1).then(() => go(`/trials/${view.id}?stop=${step.position + 1}`), (e: unknown) => setProblem(asProblem(e)));
  const blocks = view.plan.steps.at(-1)!.block;
  const after = done && (
    <>
      {problem && <Wrong problem={problem} />}
      <StopNow view={view} shot={shot} step={step} ends={ends} />
      {next
        ? <button type="button" class="main" onClick={onward}>Next stop{view.plan.hidden ? "" : `: ${next.changed ? next.set : next.label}`}</button>
        : <a class="button main" href={`/trials/${view.id}?view=verdict`}>That was the last stop: read the verdict</a>}
    </>
  );
  return (
    <>
      <section class="card stop" aria-label={`Stop ${step.position + 1}`}>
        <p class="faint">Stop {step.position + 1} of {view.plan.steps.length}{blocks > 1 && `, ${blockName(view.plan)} ${step.block} of ${blocks}`}, {minutes(step.minutes)}</p>
        {view.plan.hidden
          ? <details class="cover"><summary>For the helper alone: what to set</summary><p class="big">{capital(step.set)}</p></details>
          : <Order says={order(step)} />}
        {step.set !== "nothing" && <p>{capital(step.shoot)}.</p>}
      </section>
      {view.plan.kind === "sham" ? <><FeelStop view={view} step={step} noted={() => setCount((n) => n + 1)} />{after}</>
        : <>{view.plan.kind === "tiller" && <FeelStop view={view} step={step} hold noted={() => undefined} />}<PlotArea bow={bow} draft={`plot:${view.id}:${step.position}`} to={{ bow: view.bow, trial: view.id, stop: step.position }} onEnds={(list) => setCount(list.length)}
          given={given(view, step, ends, comma)} faces={faces} setups={setups} sessions={[]} after={after} /></>}
    </>
  );
}

// Order is what to set, in the largest letters; what goes with it stands below.
function Order({ says }: { says: string }) {
  const [first, ...rest] = says.split("; ");
  return <><h2 class="big order">{first}</h2>{rest.length > 0 && <p><strong>{capital(rest.join("; "))}.</strong></p>}</>;
}

// order is what to do first: to set something, or only to shoot.
function order(step: Step): string {
  if (step.set === "nothing") return capital(step.shoot);
  return step.changed || step.set !== "leave as it is" ? capital(step.set) : `Leave it as it is: ${step.label}`;
}

// Leave ends the day or the trial; nothing is lost by either.
function Leave({ view, left }: { view: ShootView; left: number }) {
  const [problem, setProblem] = useState<Problem>();
  const leave = (what: "paused" | "finished" | "abandoned", to: string) => void leaveTrial(view.id, what).then(() => go(to), (e: unknown) => setProblem(asProblem(e)));
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
