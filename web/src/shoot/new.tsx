import { useEffect, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useDraft, type Update } from "../lib/draft";
import { put, sentence, type Problem } from "../lib/http";
import { asProblem, useGet, useSettled } from "../lib/load";
import { replace, useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { Choice, Field, Note, Quantity } from "../ui/field";
import { Answer, Waits, Wrong } from "../ui/states";
import { HelpLine } from "../ui/helpline";
import { askPlan, trialPath } from "./api";
import { askOf, complete, infos, settingNames, unasked, type Form, type Name } from "./form";
import { Planned } from "./planned";
import type { ShootPlan, What } from "./types";

// NewTrialPage asks what a person wants to know, shows at once what it would
// take, and begins the trial.
export function NewTrialPage({ bowId }: { bowId: string }) {
  const bow = useGet<BowView>(`/bows/${bowId}`);
  useBow(bow.value);
  useTitle("Plan a trial");
  return (
    <>
      <p class="crumb"><a href={`/bows/${bowId}`}>{bow.value?.bow.name ?? "The bow"}</a></p>
      <h1>Plan a trial</h1>
      <Answer of={bow} what="Opening the bow…">
        {(view) => (view.setup ? <Planning bow={bowId} setup={view.setup.setup.id} /> : <Note kind="warn">A trial needs the bow's settings first. <a href={`/bows/${bowId}/change`}>Enter them</a></Note>)}
      </Answer>
    </>
  );
}

// anySeed begins the random order; it is kept with the plan, so that the plan
// shown is the plan followed.
const anySeed = () => crypto.getRandomValues(new Uint32Array(1))[0]!;

// told are the kinds that have a place of their own in the manual.
const told: Partial<Record<What, string>> = { "bare shaft": "bare-shaft", "walk-back": "walk-back", "two set-ups": "two-set-ups-by-groups" };

function Planning({ bow, setup }: { bow: string; setup: string }) {
  const [form, set, forget] = useDraft<Form>(`shoot:${bow}`, { ...unasked, id: uuidv7(), seed: anySeed() });
  const { plan, problem, busy } = usePlan(setup, form);
  const [begun, setBegun] = useState<Problem | "busy" | null>(null);
  const begin = () => {
    setBegun("busy");
    put(trialPath(form.id), { setup, ask: askOf(form).ask }).then(() => { forget(); replace(`/trials/${form.id}`); }, (e: unknown) => setBegun(asProblem(e)));
  };
  return (
    <>
      <Kinds bow={bow} what={form.what} set={(what) => set((now) => ({ ...now, what, rounds: "", arrows: "" }))} />
      <HelpLine to={`plot-and-compare#${told[form.what] ?? "plan-a-trial-and-follow-it"}`}>How it is done, and what it can tell</HelpLine>
      <Wishes form={form} set={set} problem={problem} />
      {!complete(form) && <p class="waits">The plan appears here as soon as the levels are typed.</p>}
      {complete(form) && !plan && !problem && <Waits what="Working out the plan…" />}
      {problem && (plan ? <Note kind="warn">The plan below is the last one that worked. {problem.fields[0] ? sentence(problem.fields[0]) : problem.message}</Note> : <Wrong problem={problem} />)}
      {plan && (
        <>
          <div aria-busy={busy}><Planned plan={plan} /></div>
          {begun && begun !== "busy" && <Wrong problem={begun} />}
          <div class="begin no-print">
            <button type="button" class="main" disabled={busy || begun === "busy" || problem !== undefined} onClick={begin}>{begun === "busy" ? "Beginning…" : "Begin the trial"}</button>
          </div>
        </>
      )}
    </>
  );
}

// usePlan asks for the plan once the typing rests; the last one stays until
// the next.
function usePlan(setup: string, form: Form) {
  const { ask, bad } = askOf(form);
  const now = JSON.stringify([setup, ask]);
  const key = useSettled(now, 400);
  const [held, setHeld] = useState<{ key: string; plan?: ShootPlan; problem?: Problem }>({ key: "" });
  useEffect(() => {
    if (bad.size > 0 || !complete(form)) return;
    const stop = new AbortController();
    askPlan(setup, ask, stop.signal).then(
      (plan) => setHeld({ key, plan }),
      (e: unknown) => { if (!stop.signal.aborted) setHeld((was) => ({ key, plan: was.plan?.what === ask.what ? was.plan : undefined, problem: asProblem(e) })); },
    );
    return () => stop.abort();
  }, [key]);
  const plan = held.plan?.what === form.what ? held.plan : undefined;
  return { plan, problem: held.key === key ? held.problem : undefined, busy: held.key !== now };
}

function Kinds({ bow, what, set }: { bow: string; what: What; set: (what: What) => void }) {
  return (
    <fieldset class="pick">
      <legend>What do you want to know?</legend>
      {infos.map((i) => (
        <label key={i.what} class={i.what === what ? "choice here" : "choice"}>
          <input type="radio" name="what" value={i.what} checked={i.what === what} onChange={() => set(i.what)} />
          <span><strong>{i.name}</strong><br /><span class="faint small">{i.asks}</span></span>
        </label>
      ))}
      <p class="small">Brace height by ear has a page of its own: <a class="pad" href={`/bows/${bow}/trial`}>Brace-height trial</a></p>
    </fieldset>
  );
}

function Wishes({ form, set, problem }: { form: Form; set: Update<Form>; problem?: Problem }) {
  const info = infos.find((i) => i.what === form.what)!;
  const { bad } = askOf(form);
  const put = <K extends keyof Form>(k: K) => (v: Form[K]) => set((now) => ({ ...now, [k]: v }));
  const wrong = (name: Name, field: string) => bad.get(name) ?? problem?.at(field);
  const bare = form.what === "bare shaft" || form.what === "nocking point by bare shaft";
  const pair = form.what === "two set-ups" || form.what === "confirm" || form.what === "sham";
  return (
    <section class="card" aria-label="What you decide">
      <h2>What you decide</h2>
      {(pair || form.what === "one setting") && <Choice label="Setting" value={form.setting} options={settingNames} onInput={put("setting")} />}
      {pair && (
        <div class="pairs">
          <Field label={form.what === "confirm" ? "A, the new" : "A"} value={form.a} onInput={put("a")} name="a" placeholder="3 turns stiffer" error={problem?.at("a")} />
          <Field label={form.what === "confirm" ? "B, what was" : "B"} value={form.b} onInput={put("b")} name="b" placeholder="as it is now" error={problem?.at("b")} />
        </div>
      )}
      {form.what === "one setting" && (
        <div class="pairs">
          {form.levels.map((l, k) => <Field key={k} label={["Low end", "Middle", "High end"][k]!} required value={l} name={`level_${k}`} placeholder={["6 mm", "9 mm", "12 mm"][k]} error={problem?.at(`levels/${k}`)}
            onInput={(v) => set((now) => ({ ...now, levels: now.levels.map((o, i) => (i === k ? v : o)) as Form["levels"] }))} />)}
        </div>
      )}
      {form.what === "settings" && <Factors form={form} set={set} problem={problem} />}
      {form.what === "walk-back" && <Field label="Distances" required value={form.distances} onInput={put("distances")} name="distances" help="Nearest first, four to six of them." error={problem?.at("distances")} />}
      <div class="pairs">
        {info.rounds && <Field label={info.rounds} value={form.rounds} onInput={put("rounds")} inputMode="numeric" name="rounds" error={wrong("rounds", "rounds")} help="Empty: as many as are usual." />}
        <Field label={info.arrows} value={form.arrows} onInput={put("arrows")} inputMode="numeric" name="arrows" error={wrong("arrows", "arrows")} help="Empty: as many as are usual." />
        {bare && <Field label="Numbered bare shafts" required value={form.shafts} onInput={put("shafts")} inputMode="numeric" name="shafts" error={wrong("shafts", "bare_shafts")} help="At least three: one odd shaft says nothing about the bow." />}
      </div>
      {form.what !== "walk-back" && form.what !== "sham" && <Quantity label="Distance" quantity="distance" value={form.distance} onInput={put("distance")} name="distance" placeholder={bare ? "18 m" : "70 m"} />}
      {bare && <label class="choice"><input type="checkbox" checked={form.taped} onChange={(e) => put("taped")(e.currentTarget.checked)} /><span>Their tails are taped to the mass of the fletching</span></label>}
      {form.what === "nocking point by bare shaft" && <label class="choice"><input type="checkbox" checked={form.bareLow ?? false} onChange={(e) => put("bareLow")(e.currentTarget.checked)} /><span>The bare shafts land low now: the second reading stands 2 mm lower</span></label>}
      {form.what === "settings" && <label class="choice"><input type="checkbox" checked={form.faceCentred} onChange={(e) => put("faceCentred")(e.currentTarget.checked)} /><span>With the second day's points, to see a curve</span></label>}
    </section>
  );
}

function Factors({ form, set, problem }: { form: Form; set: Update<Form>; problem?: Problem }) {
  const change = (k: number, more: Partial<Form["settings"][number]>) => set((now) => ({ ...now, settings: now.settings.map((s, i) => (i === k ? { ...s, ...more } : s)) }));
  return (
    <>
      {form.settings.map((s, k) => (
        <div class="pairs" key={k}>
          <Choice label={`Setting ${k + 1}`} value={s.setting} options={settingNames} onInput={(setting) => change(k, { setting })} error={problem?.at(`settings/${k}/setting`)} />
          <Field label="from" required value={s.low} onInput={(low) => change(k, { low })} name={`low_${k}`} placeholder="6 mm" error={problem?.at(`settings/${k}`)} />
          <Field label="to" required value={s.high} onInput={(high) => change(k, { high })} name={`high_${k}`} placeholder="10 mm" />
        </div>
      ))}
      <p><button type="button" class="quiet" onClick={() => set((now) => ({ ...now, settings: now.settings.length > 2 ? now.settings.slice(0, 2) : [...now.settings, { setting: "rest_height", low: "", high: "" }] }))}>{form.settings.length > 2 ? "Two settings only" : "A third setting"}</button></p>
    </>
  );
}
