import { useEffect, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { api, post } from "../lib/http";
import { useGet, useLoaded } from "../lib/load";
import { useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BenchView, BowView, Rows as List, SetUpView } from "../lib/types";
import { useNamed } from "../lib/whose";
import { capital, when } from "../lib/words";
import { Choice, Note } from "../ui/field";
import { Answer } from "../ui/states";
import { Cautions } from "../bow/forecast";
import { changeLink } from "./link";
import { Computing, usePolled } from "./poll";
import type { Differs, Row, Together, Transfer } from "./types";

// BesidePage puts two set-ups side by side, of one bow or of two, and brings a
// spare bow to match.
export function BesidePage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  const bench = useGet<BenchView>("/bows");
  useTitle(bow.value && `${bow.value.bow.name} beside another`);
  useBow(bow.value);
  return (
    <Answer of={bow} what="Opening the bow…" title="Side by side">
      {(v) => (
        <>
          <p class="crumb"><a href={`/bows/${id}`}>{v.bow.name}</a></p>
          <h1>Side by side</h1>
          <p class="lead">What differs between two set-ups, what each would show, and how a spare is brought to match.</p>
          {!v.setup ? <Note>This bow has no set-up yet. Enter its settings first.</Note>
            : <Answer of={bench} what="Looking at the other bows…">{(b) => <Chosen view={v} bench={b} />}</Answer>}
        </>
      )}
    </Answer>
  );
}

function Chosen({ view, bench }: { view: BowView; bench: BenchView }) {
  const withSetUp = bench.bows.filter((b) => b.setup);
  const other = withSetUp.find((b) => b.bow.id !== view.bow.id);
  const [bow, setBow] = useState(view.setups > 1 || !other ? view.bow.id : other.bow.id);
  const first = useGet<List<SetUpView>>(`/bows/${view.bow.id}/setups`);
  const second = useGet<List<SetUpView>>(`/bows/${bow}/setups`);
  const [a, setA] = useState(view.setup!.setup.id);
  const [b, setB] = useState("");
  const rows = second.value?.rows ?? [];
  useEffect(() => {
    if (rows.length > 0 && !rows.some((r) => r.setup.id === b)) setB((rows.find((r) => r.setup.id !== a) ?? rows[0]!).setup.id);
  }, [second.value]);
  const named = useNamed();
  const names = (list: SetUpView[]): [string, string][] => list.map((r) => [r.setup.id, `${when(r.setup.at)}: ${r.setup.reason || "no reason noted"}`.slice(0, 70)]);
  return (
    <>
      <div class="card">
        <Choice label={`Set-up of ${view.bow.name}`} value={a} options={names(first.value?.rows ?? [view.setup!])} onInput={setA} />
        <Choice label="Beside which bow" value={bow} options={withSetUp.map((w): [string, string] => [w.bow.id, w.bow.id === view.bow.id ? `${w.bow.name} itself` : named(w)])} onInput={setBow} />
        {rows.length > 0 && <Choice label="Its set-up" value={b} options={names(rows)} onInput={setB} />}
      </div>
      {b !== "" && rows.some((r) => r.setup.id === b) && <Pair a={a} b={b} spare={bow !== view.bow.id ? bow : undefined} />}
    </>
  );
}

function Pair({ a, b, spare }: { a: string; b: string; spare?: string }) {
  const person = useMe().me?.person;
  const units = person ? `${person.units}|${person.decimal_comma}` : null;
  const of = useLoaded<Together>(units && `${a}|${b}|${units}`, (signal) => post<Together>(`${api}/compare`, { first: a, second: b }, signal));
  return (
    <>
      <Answer of={of} what="Computing both…">{(v) => <Beside of={v} />}</Answer>
      <p class="row"><a class="button" href={`/sheets/compare/${a}?with=${b}`}>Sheet to print</a></p>
      {spare && <Match key={`${a}${b}`} a={a} b={b} spare={spare} units={units} />}
    </>
  );
}

function Beside({ of }: { of: Together }) {
  const [one, two] = of.same_bow ? ["first", "second"] : [of.first.name, of.second.name];
  return (
    <div>
      <section class="card">
        <h2>What differs as set</h2>
        {of.differences.length === 0 ? <p class="faint">Nothing: they are set alike.</p> : <Settings list={of.differences} one={one!} two={two!} />}
      </section>
      <section class="card">
        <h2>What each would show</h2>
        <Quantities list={of.rows} one={one!} two={two!} />
        {of.marks.length > 0 && (
          <>
            <h3>Sight marks move from the first to the second by</h3>
            <ul class="plain num">{of.marks.map((m) => <li key={m.distance}>{m.distance}: {m.moves}</li>)}</ul>
            <p class="doubt">Plus: the pin goes down, the bow points higher.</p>
          </>
        )}
        {of.notes.map((n) => <p key={n} class="doubt">{n}</p>)}
      </section>
    </div>
  );
}

function Settings({ list, one, two }: { list: Differs[]; one: string; two: string }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="What differs as set">
      <table>
        <thead><tr><th scope="col">entry</th><th scope="col">{one}</th><th scope="col">{two}</th></tr></thead>
        <tbody>{list.map((d) => <tr key={d.key}><td>{capital(d.label)}</td><td>{d.first || "not noted"}</td><td>{d.second || "not noted"}</td></tr>)}</tbody>
      </table>
    </div>
  );
}

function Quantities({ list, one, two }: { list: Row[]; one: string; two: string }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={`${one} and ${two}, computed`}>
      <table>
        <thead><tr><th scope="col">quantity</th><th scope="col">{one}</th><th scope="col">{two}</th><th scope="col">difference</th></tr></thead>
        <tbody>
          {list.map((r) => (
            <tr key={r.quantity}><td>{capital(r.label)}</td><td>{r.first}</td><td>{r.second}</td><td>{r.apart}{!r.sure && <span class="faint small"> cannot tell which way</span>}</td></tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

// Match asks for the change of the spare only when it is wanted: it takes a
// while.
function Match({ a, b, spare, units }: { a: string; b: string; spare: string; units: string | null }) {
  const [wanted, setWanted] = useState(false);
  const of = usePolled<Transfer>(wanted && units ? `${a}|${b}|${units}` : null, (signal) => post<Transfer>(`${api}/transfer`, { first: a, spare: b }, signal));
  return (
    <section class="card">
      <h2>Bring the second bow to match</h2>
      {!wanted && (
        <>
          <p>Brace height inside its limb maker's range, button and centre shot are turned until the second bow's launch comes closest; nocking point and tiller are copied.</p>
          <button type="button" class="main-size" onClick={() => setWanted(true)}>Find the changes</button>
        </>
      )}
      {wanted && <Answer of={of} what="Turning the spare's settings…">{(v) => (v.state === "computing" ? <Computing of={v} what="Turning the spare's settings…" /> : <Matched of={v} spare={spare} />)}</Answer>}
    </section>
  );
}

function Matched({ of, spare }: { of: Transfer; spare: string }) {
  return (
    <>
      {of.changes.length === 0 ? <p>Nothing that can be turned brings them closer.</p> : (
        <>
          <h3>Change on {of.spare.name}</h3>
          <ol>{of.changes.map((c) => <li key={c.key}>{c.label}: {c.first || "not noted"} → <strong>{c.second}</strong></li>)}</ol>
          <p><a class="button main" href={changeLink(spare, of.set)}>Open it as a change of {of.spare.name}</a></p>
        </>
      )}
      <h3>After it</h3>
      <Quantities list={of.after} one="first" two={of.spare.name} />
      {of.unmatched.length > 0 && <Note kind="warn"><p>What cannot be matched:</p><ul>{of.unmatched.map((u) => <li key={u}>{u}</li>)}</ul></Note>}
      {of.notes.map((n) => <p key={n} class="doubt">{n}</p>)}
      <Cautions lines={of.cautions} />
    </>
  );
}
