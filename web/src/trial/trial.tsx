import { useEffect, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { readDraft } from "../lib/draft";
import type { Problem } from "../lib/http";
import { asProblem, useGet } from "../lib/load";
import { go, useTitle } from "../lib/route";
import type { BowView, SetUpView } from "../lib/types";
import { when } from "../lib/words";
import { ShootTrial } from "../shoot";
import { recordOf as shooting } from "../shoot/record";
import { Note } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { CardPage } from "./card";
import { Cautions } from "./planned";
import { useQuery } from "./query";
import { StopPage } from "./record";
import { leaveTrial, useUnsent, withUnsent } from "./send";
import { StopsPage } from "./stops";
import type { TrialView } from "./types";
import { VerdictPage } from "./verdict";

// Page is what every view of a trial is given.
export interface Page { view: TrialView; setup?: SetUpView; again: () => void }

const views: [string, string][] = [["", "Record"], ["stops", "All stops"], ["card", "Card"], ["verdict", "Verdict"]];

// TrialPage shows a trial of any kind: those judged by where arrows hit, or by
// feel, have pages of their own.
export function TrialPage({ id }: { id: string }) {
  const trial = useGet<TrialView>(`/trials/${id}`);
  const unsent = useUnsent();
  useEffect(() => { trial.again(); }, [unsent]);
  return (
    <Answer of={trial} what="Opening the trial …" title="Trial">
      {(value) => (value.trial.what === "brace height" ? <BraceTrial view={value} at={trial.at} again={trial.again} /> : <ShootTrial record={shooting(value)} again={trial.again} />)}
    </Answer>
  );
}

// BraceTrial records a brace-height trial and gives its verdict.
function BraceTrial({ view: value, at, again }: { view: TrialView; at?: string; again: () => void }) {
  const { id, bow: of, setup: from } = value.trial;
  const bow = useGet<BowView>(`/bows/${of}`);
  const setup = useGet<SetUpView>(`/setups/${from}`);
  useBow(bow.value);
  useTitle("Brace-height trial");
  const shown = useQuery("view");
  const page = { view: withUnsent(value, at), setup: setup.value, again };
  return (
    <>
      <h1>Brace-height trial</h1>
      <Views id={id} shown={shown} />
      {shown === "" && <Range {...page} />}
      {shown === "stops" && <StopsPage {...page} />}
      {shown === "card" && <CardPage {...page} />}
      {shown === "verdict" && <VerdictPage {...page} />}
    </>
  );
}

function Views({ id, shown }: { id: string; shown: string }) {
  return (
    <nav class="views no-print" aria-label="Parts of this trial">
      {views.map(([key, text]) => (
        <a key={key} href={key ? `/trials/${id}?view=${key}` : `/trials/${id}`} aria-current={key === shown ? "page" : undefined}>{text}</a>
      ))}
    </nav>
  );
}

// Range is the page for the shooting line: one stop at a time.
function Range(page: Page) {
  const { view } = page, id = view.trial.id;
  const asked = useQuery("stop");
  const [begin] = useState(() => firstOpen(view));
  const at = asked === "" ? begin : Number(asked);
  const left = view.stops.filter((s) => s.state !== "measured").length;
  const ended = view.brief.state === "finished" || view.brief.state === "abandoned";
  return (
    <>
      <Progress view={view} at={at} />
      {ended && <Note>This trial is {view.brief.state}. What you note now still joins it.{left > 0 && <> <a href={`/trials/${id}?view=verdict`}>Read the verdict</a></>}</Note>}
      {view.brief.state === "paused" && <Note>You left this trial {when(view.events.at(-1)!.at)}. Set the string as below and go on.</Note>}
      {at !== undefined && view.stops[at] ? <StopPage key={at} {...page} stop={at} /> : <AllMeasured id={id} />}
      {ended ? <p><a class="button quiet" href={`/sheets/trial/${id}`}>Sheet of this trial</a></p> : <Leave view={view} left={left} />}
      <Cautions list={view.plan.cautions} />
    </>
  );
}

// firstOpen is the stop to go on with: the one reached last unless it is
// measured and nothing typed waits there; else the first not measured.
function firstOpen(view: TrialView): number | undefined {
  const typed = view.stops.findIndex((_, i) => readDraft(`trial:${view.trial.id}:stop:${i}`) !== undefined);
  if (typed >= 0) return typed;
  const reached = view.brief.stop;
  if (reached !== undefined && view.stops[reached] && view.stops[reached].state !== "measured") return reached;
  const open = view.stops.findIndex((s) => s.state !== "measured");
  return open < 0 ? undefined : open;
}

function Progress({ view, at }: { view: TrialView; at?: number }) {
  return (
    <ol class="progress no-print" aria-label="Stops">
      {view.stops.map((s, i) => (
        <li key={i}>
          <a href={`/trials/${view.trial.id}?stop=${i}`} class={s.state} aria-current={i === at ? "step" : undefined}
            aria-label={`Stop ${s.plan.number}: ${s.state === "todo" ? "to do" : s.state}`}>
            {s.plan.number}{s.state === "measured" && <sup aria-hidden="true">✓</sup>}
          </a>
        </li>
      ))}
    </ol>
  );
}

function AllMeasured({ id }: { id: string }) {
  return (
    <div class="card">
      <h2>Every stop is measured.</h2>
      <a class="button main" href={`/trials/${id}?view=verdict`}>Read the verdict</a>
    </div>
  );
}

// Leave ends the day or the trial; nothing is lost by either.
function Leave({ view, left }: { view: TrialView; left: number }) {
  const { id, bow } = view.trial;
  const [problem, setProblem] = useState<Problem>();
  const leave = (what: "paused" | "finished" | "abandoned", to: string) => void leaveTrial(id, what).then(() => go(to), (e: unknown) => setProblem(asProblem(e)));
  return (
    <section class="row no-print leave" aria-label="Leave the trial">
      {problem && <Wrong problem={problem} />}
      <button type="button" class="quiet" onClick={() => leave("paused", `/bows/${bow}`)}>Leave it for today</button>
      {left === view.stops.length
        ? <button type="button" class="quiet" onClick={() => leave("abandoned", `/bows/${bow}`)}>Give this trial up</button>
        : <button type="button" class="quiet" onClick={() => leave("finished", `/trials/${id}?view=verdict`)}>{left === 0 ? "Finish" : `Finish with ${left} ${left === 1 ? "stop" : "stops"} left`}</button>}
      <a class="button quiet" href={`/sheets/plan/${id}`}>Pencil card</a>
    </section>
  );
}
