import { useEffect } from "preact/hooks";
import { nextPage } from "../bench/next";
import { trialWords } from "../bench/card";
import { useBow } from "../lib/bar";
import { api, post, told } from "../lib/http";
import { allRows, useGet, useLoaded } from "../lib/load";
import { useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import { useTheirs } from "../lib/whose";
import { useUnsent } from "../trial/send";
import type { BowView, Preview, Session, TrialBrief } from "../lib/types";
import { when } from "../lib/words";
import { Note } from "../ui/field";
import { Answer, Waits } from "../ui/states";
import { About } from "./about";
import { CurrentSetUp } from "./current";
import { ForkCard } from "./fork";
import { withUnsent } from "./unsent";
import { Cautions, Forecast } from "./forecast";
import { History } from "./history";
import { Readings } from "./readings";
import { SweepCard } from "./sweep";
import { LedgerCard, WorkCard } from "../standing/cards";

// BowPage is one bow: where it stands, what the model says of it, what was
// measured, and how it came here.
export function BowPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value?.bow.name);
  useBow(bow.value);
  const unsent = useUnsent();
  useEffect(() => { if (bow.value) bow.again(); }, [unsent]); // what was sent may be the bow's set-up now
  return <Answer of={bow} what="Opening the bow…" title="The bow">{(view) => <Page view={withUnsent(view, bow.at)} changed={bow.again} />}</Answer>;
}

function Page({ view, changed }: { view: BowView; changed: () => void }) {
  const { bow, setup } = view, archer = useTheirs()(view);
  return (
    <>
      <p class="crumb"><a href="/">Bench</a></p>
      <h1>{bow.name}{bow.archived && <span class="tag">put away</span>}{view.demo && <span class="tag">invented</span>}</h1>
      {archer && <p class="whose">{archer}</p>}
      {setup?.unsent && <Note kind="warn">This change is on this device only, and goes to the notebook as soon as it answers; forecasts follow then: {setup.setup.reason}</Note>}
      <ForkCard view={view} changed={changed} />
      <NextStep view={view} />
      {setup && (
        <>
          {!setup.unsent && <ForecastCard setup={setup.setup.id} />}
          <Ways bow={bow.id} setup={setup.setup.id} />
        </>
      )}
      <div class="two">
        <div>
          {setup && <CurrentSetUp view={view} setup={setup} />}
        </div>
        <div>
          {setup && <Readings bow={bow.id} setup={setup} changed={changed} />}
          {setup && <WorkCard bow={bow.id} />}
          {setup && <LedgerCard bow={bow.id} />}
        </div>
      </div>
      {setup && !setup.unsent && <SweepCard setup={setup} brace={view.brace} />}
      <div class="two">
        <div><History key={view.setups} bow={bow.id} changed={changed} /></div>
        <div>
          <Trials bow={bow.id} />
          <Sessions bow={bow.id} />
          <About bow={bow} tag={view.tag} changed={changed} />
        </div>
      </div>
    </>
  );
}

// ways are everything that can be done with a bow, in the order of the job.
const ways: [string, [string, string][]][] = [
  ["Shoot and write down", [["plot", "Plot an end"], ["sound", "Sound"], ["groups", "Groups"], ["round", "Quick check"]]],
  ["Decide by a trial", [["trial", "Brace-height trial"], ["trials/new", "Another trial"]]],
  ["Change it", [["change", "Change something"], ["beside", "Side by side"]]],
  ["See what it would do", [["target", "At the target"], ["heights", "High or low"], ["explain", "What brace height does"], ["forgiveness", "What it forgives"], ["fit", "Fitted to your readings"]]],
  ["Arrows and sight", [["shafts", "Shafts to try"], ["marks", "Sight marks"]]],
  ["Keep it as it is", [["standing", "Does it still count?"], ["upkeep", "Keep it"], ["ledger", "Forecast and reading"], ["taken-back", "Taken back"]]],
];

function Ways({ bow, setup }: { bow: string; setup: string }) {
  return (
    <nav class="card ways" aria-label="What to do with this bow">
      {ways.map(([title, links]) => (
        <div key={title}>
          <h2>{title}</h2>
          <p class="row">{links.map(([to, words]) => <a key={to} class="button" href={`/bows/${bow}/${to}`}>{words}</a>)}</p>
        </div>
      ))}
      <div>
        <h2>Print</h2>
        <p class="row"><a class="button" href={`/sheets/setup/${setup}`}>Sheet of the set-up</a></p>
      </div>
    </nav>
  );
}

// NextStep is the one thing to do now, with its button.
function NextStep({ view }: { view: BowView }) {
  const next = nextPage(view);
  const note = next.href.includes("?note=");
  return (
    <section class="card next-step">
      <p>{view.next.text}</p>
      {note ? <a class="button main" href="#note-reading">{next.label}</a> : <a class="button main" href={next.href}>{next.label}</a>}
    </section>
  );
}

function ForecastCard({ setup }: { setup: string }) {
  const units = useMe().me?.person;
  const key = units ? `${setup}|${units.units}|${units.decimal_comma}` : null;
  const forecast = useLoaded<Preview>(key, (signal) => post<Preview>(`${api}/predict`, { setup }, signal));
  return (
    <section class="card">
      <h2>Forecast</h2>
      {forecast.value ? <><Forecast of={forecast.value} /><Cautions lines={forecast.value.cautions} /></>
        : forecast.problem ? <Note>No forecast yet. {told(forecast.problem)}</Note> : <Waits what="Computing…" />}
    </section>
  );
}

// Sessions lists the visits to the range, each with its report.
function Sessions({ bow }: { bow: string }) {
  const sessions = useLoaded<Session[]>(bow, (signal) => allRows<Session>(`/sessions?bow=${bow}`, signal));
  const rows = [...(sessions.value ?? [])].reverse();
  return (
    <section class="card">
      <h2>Sessions</h2>
      {rows.length === 0 && <><p class="faint">None yet. A session begins with the first end you plot; its report stands here to print or send.</p><a class="button" href={`/bows/${bow}/plot`}>Plot an end</a></>}
      {rows.length > 0 && <ul class="lines">{rows.slice(0, 20).map((s) => <li key={s.id}><a href={`/sheets/session/${s.id}`}>{when(s.at)}{s.place && `, ${s.place}`}</a></li>)}</ul>}
    </section>
  );
}

function Trials({ bow }: { bow: string }) {
  const trials = useLoaded<TrialBrief[]>(bow, (signal) => allRows<TrialBrief>(`/trials?bow=${bow}`, signal));
  const rows = [...(trials.value ?? [])].reverse();
  return (
    <section class="card">
      <h2>Trials</h2>
      {rows.length === 0 && <><p class="faint">None yet. A trial takes the bow through a few settings and says what is known afterwards.</p><a class="button" href={`/bows/${bow}/trial`}>Plan a trial</a></>}
      {rows.length > 0 && <ul class="lines">{rows.map((t) => <li key={t.id}><a href={`/trials/${t.id}`}>{trialWords(t)}</a></li>)}</ul>}
    </section>
  );
}
