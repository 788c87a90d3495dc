import { useState } from "preact/hooks";
import { Cautions } from "../bow/forecast";
import { useBow } from "../lib/bar";
import { api, post } from "../lib/http";
import { useGet } from "../lib/load";
import { useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BowView, Doubted } from "../lib/types";
import { capital } from "../lib/words";
import { Choice, Facts, Field, Note, Pick, Quantity } from "../ui/field";
import { Answer } from "../ui/states";
import { changeLink } from "./link";
import { Computing, usePolled } from "./poll";
import type { Progress } from "./types";

interface Parameter { name: string; value: string; prior: string; learnt_share: number; prior_source: string }
interface NextReading { name: string; needs: string; minutes: number; expected_drop: number; why: string }
interface Fit extends Progress {
  readings_seen: number; skipped: string[]; parameters: Parameter[]; expected: Doubted[]; next_readings: NextReading[]; warnings: string[]; earlier_fits: number;
  settings: { key: string; label: string; now: string }[]; cautions: string[];
}
interface Effect { label: string; now: string; then: string; change: Doubted; says: string; sure: number }
interface WhatIf extends Progress { effects: Effect[]; in_window: boolean; window_reason?: string; warnings: string[] }
interface Route { name: string; say: string; set: Record<string, string>; success: number; reached: Doubted; size: number; reversible: boolean; side_effects: Effect[]; warnings: string[] }
interface Advice extends Progress { routes: Route[]; withheld?: string; notes: string[]; cautions: string[] }

// AdvicePage is this bow, fitted to its readings: what it knows, what to
// measure next, what a change would do, and ways to a wish.
export function AdvicePage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Advice for ${bow.value.bow.name}`);
  useBow(bow.value?.bow);
  return (
    <Answer of={bow} what="Opening the bow…">
      {(v) => (
        <>
          <p class="crumb"><a href={`/bows/${id}`}>{v.bow.name}</a></p>
          <h1>Advice from this bow's own readings</h1>
          <p class="lead">The model is fitted to everything read on this bow. It is fitted again whenever a reading was added; old fits are kept.</p>
          {v.setup ? <Fitted id={id} /> : <Note>This bow has no set-up yet. Enter its settings first.</Note>}
        </>
      )}
    </Answer>
  );
}

function Fitted({ id }: { id: string }) {
  const person = useMe().me?.person;
  const units = person ? `${person.units}|${person.decimal_comma}|${person.hand}` : null;
  const of = usePolled<Fit>(units && `${id}|${units}`, (signal) => post<Fit>(`${api}/bows/${id}/fit`, {}, signal));
  return (
    <Answer of={of} what="Fitting the bow…">
      {(v) => (v.state === "computing" ? <Computing of={v} what="Fitting the bow to its readings…" /> : (
        <div class="two">
          <div><Wish id={id} units={units!} /><WhatIfCard id={id} fit={v} units={units!} /></div>
          <div><Known of={v} id={id} /></div>
        </div>
      ))}
    </Answer>
  );
}

function Known({ of, id }: { of: Fit; id: string }) {
  return (
    <>
      <section class="card">
        <h2>What the readings say</h2>
        <p>{of.readings_seen === 0 ? "No reading to fit to yet: this is the generic bow, scaled to what you entered." : `Fitted to ${of.readings_seen} readings.`}{of.earlier_fits > 0 ? ` ${of.earlier_fits} earlier fits are kept.` : ""}</p>
        {of.warnings.length > 0 && <Note kind="warn"><p>Look again at:</p><ul>{of.warnings.map((w) => <li key={w}>{w}</li>)}</ul></Note>}
        <Facts rows={of.expected.map((e): [string, preact.ComponentChildren] => [e.label, <>{e.text} <span class="doubt">({e.doubt})</span></>])} />
        <details>
          <summary>What was fitted</summary>
          <div class="scroll" tabIndex={0} role="region" aria-label="Fitted parameters">
            <table>
              <thead><tr><th scope="col">what</th><th scope="col">now, ± one standard deviation</th><th scope="col">before any reading</th><th scope="col">learnt</th></tr></thead>
              <tbody>{of.parameters.map((p) => <tr key={p.name}><td>{capital(p.name)}</td><td>{p.value}</td><td>{p.prior}</td><td>{Math.round(100 * p.learnt_share)} %</td></tr>)}</tbody>
            </table>
          </div>
        </details>
        {of.skipped.length > 0 && <details><summary>Readings that were left out</summary><ul>{of.skipped.map((s) => <li key={s}>{s}</li>)}</ul></details>}
      </section>
      <section class="card">
        <h2>What to measure next</h2>
        {of.next_readings.length === 0 && <p class="faint">No single reading would narrow it much.</p>}
        <ol>{of.next_readings.map((n) => <li key={n.name}><strong>{capital(n.name)}</strong>: {n.why} <span class="doubt">Takes away {Math.round(100 * n.expected_drop)} % of the doubt, about {n.minutes} min; needs {n.needs}.</span></li>)}</ol>
        <p class="row"><a class="button" href={`/bows/${id}#note-reading`}>Note a reading</a></p>
      </section>
    </>
  );
}

type Kind = "bare_to_group" | "faster" | "quieter";
const wishes: [Kind, string][] = [["bare_to_group", "Bare shaft to the group at 30 m"], ["faster", "A faster arrow"], ["quieter", "A quieter bow"]];

function Wish({ id, units }: { id: string; units: string }) {
  const [kind, setKind] = useState<Kind>("bare_to_group");
  const [offset, setOffset] = useState("");
  const [asked, setAsked] = useState<{ kind: Kind; offset?: string; n: number }>();
  const of = usePolled<Advice>(asked ? `${id}|${units}|${JSON.stringify(asked)}` : null,
    (signal) => post<Advice>(`${api}/bows/${id}/advice`, { kind: asked!.kind, ...(asked!.offset ? { offset: asked!.offset } : {}) }, signal));
  return (
    <section class="card">
      <h2>What would you like?</h2>
      <form noValidate onSubmit={(e) => { e.preventDefault(); setAsked({ kind, offset: kind === "bare_to_group" && offset.trim() ? offset.trim() : undefined, n: (asked?.n ?? 0) + 1 }); }}>
        <Pick label="Wish" value={kind} options={wishes} onInput={setKind} />
        {kind === "bare_to_group" && <Quantity label="Where the bare shaft lands now, right of the group" help="As seen from the shooting line; left is minus. Empty: as the fitted bow says." name="offset" quantity="impact" value={offset} onInput={setOffset} placeholder="like -6 cm" />}
        <button type="submit" class="main-size">Find ways</button>
      </form>
      {asked && <Answer of={of} what="Trying what can be turned…">{(v) => (v.state === "computing" ? <Computing of={v} what="Trying what can be turned…" /> : <Routes of={v} id={id} />)}</Answer>}
    </section>
  );
}

function Routes({ of, id }: { of: Advice; id: string }) {
  return (
    <div aria-live="polite">
      {of.withheld && <Note kind="warn">{of.withheld}</Note>}
      {of.routes.map((r) => (
        <article key={r.name} class="card" aria-label={r.name}>
          <h3>{capital(r.name)}</h3>
          <p>{r.say}</p>
          <p class="num">Predicted: <strong>{r.reached.text}</strong> <span class="doubt">({r.reached.doubt})</span>. Met with a probability of {Math.round(100 * r.success)} %.{!r.reversible && " Something is bought or cut: borrow a test shaft first."}</p>
          {r.warnings.length > 0 && <Note kind="warn"><ul>{r.warnings.map((w) => <li key={w}>{w}</li>)}</ul></Note>}
          {r.side_effects.length > 0 && <details><summary>What else it moves</summary><ul>{r.side_effects.map((e) => <li key={e.label}>{e.says || `${e.label}: ${e.change.text}`}</li>)}</ul></details>}
          <p class="row"><a class="button" href={changeLink(id, r.set)}>Open it as a change</a></p>
        </article>
      ))}
      {of.notes.map((n) => <p key={n} class="doubt">{n}</p>)}
      <Cautions lines={of.cautions} />
    </div>
  );
}

// WhatIfCard moves one setting of the fitted bow; the target page has sliders
// and the picture.
function WhatIfCard({ id, fit, units }: { id: string; fit: Fit; units: string }) {
  const [key, setKey] = useState(fit.settings[0]?.key ?? "");
  const [value, setValue] = useState("");
  const [asked, setAsked] = useState<{ key: string; value: string }>();
  const of = usePolled<WhatIf>(asked ? `${id}|${units}|${asked.key}|${asked.value}` : null, (signal) => post<WhatIf>(`${api}/bows/${id}/whatif`, { settings: [asked] }, signal));
  const now = fit.settings.find((s) => s.key === key)?.now;
  if (fit.settings.length === 0) return null;
  return (
    <section class="card">
      <h2>What if</h2>
      <p><a href={`/bows/${id}/target`}>With sliders and the target's picture</a></p>
      <form noValidate onSubmit={(e) => { e.preventDefault(); if (value.trim()) setAsked({ key, value: value.trim() }); }}>
        <Choice label="Move" value={key} options={fit.settings.map((s): [string, string] => [s.key, s.label])} onInput={(k) => { setKey(k); setValue(""); }} />
        <Field label={`To, now ${now ?? "not entered"}`} name="whatif" value={value} onInput={setValue} placeholder={now} />
        <button type="submit">What would it do?</button>
      </form>
      {asked && (
        <Answer of={of} what="Computing…">
          {(v) => (v.state === "computing" ? <Computing of={v} what="Computing…" /> : (
            <div aria-live="polite">
              {v.warnings.map((w) => <Note key={w} kind="warn">{w}</Note>)}
              {!v.in_window && v.window_reason && <Note kind="warn">{capital(v.window_reason)}.</Note>}
              <div class="scroll below" tabIndex={0} role="region" aria-label="What the change does">
                <table>
                  <thead><tr><th scope="col">quantity</th><th scope="col">change</th><th scope="col">90 %</th></tr></thead>
                  <tbody>{v.effects.map((e) => <tr key={e.label}><td>{capital(e.label)}</td><td>{e.change.text}</td><td>{e.change.doubt}</td></tr>)}</tbody>
                </table>
              </div>
              <p class="row below"><a class="button" href={changeLink(id, { [asked.key]: asked.value })}>Open it as a change</a></p>
            </div>
          ))}
        </Answer>
      )}
    </section>
  );
}
