import { Cautions } from "../bow/forecast";
import { useBow } from "../lib/bar";
import { useDraft } from "../lib/draft";
import { told, type Problem } from "../lib/http";
import { useGet, useSettled } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { useAddress, type Query } from "../lib/query";
import { useTitle } from "../lib/route";
import type { BowView, Doubted, Shown } from "../lib/types";
import { capital } from "../lib/words";
import type { Figure } from "../ui/chart";
import { Field, Note, Quantity } from "../ui/field";
import { Answer } from "../ui/states";
import { HelpLine } from "../ui/helpline";
import { BowDoors, NeedsArrow, NeedsSetUp } from "./doors";
import { Running, useLong } from "./long";
import { Stack } from "./stack";

interface Row { at: Shown; sideways: Doubted; by_source: Record<string, Shown>; height?: Shown; by_source_height?: Record<string, Shown>; in_window: boolean; window_reason: string }
interface Change { treatment: string; sentence: string; sign: number; retuned_ratio: number; change: Doubted; change_other_string: Doubted; by_source: { name: string; label: string; sign: number; text: string }[] }
interface Source { name: string; field: string; label: string; quantity: string; unit: string; value: number; text: string; assumed: boolean }
interface View {
  over: string; summary: string; compared: string; rows: Row[]; changes: Change[]; sources: Source[]; ghosts_over_linear_ratio: number; shown_by_72_arrows_percent: number;
  unexplained?: Shown; vertical_reason: string; figures: Figure[]; notes: string[]; cautions: string[];
}

// ForgivenessPage answers what a brace height, a button or an arrow forgives:
// error by error, and in one plain sentence.
export function ForgivenessPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Forgiveness: ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "Bow"}</a></p>
      <h1>What is it forgiving of?</h1>
      <HelpLine to="at-the-target#what-is-it-forgiving-of">How to read this</HelpLine>
      <Answer of={bow} what="Opening the bow…">
        {(view) => view.setup ? <Asking key={view.setup.setup.id} bow={id} setup={view.setup.setup.id} /> : <NeedsSetUp bow={id} what="Forgiveness needs the bow's settings: draw length, draw weight, brace height, and the arrow's mass and static spine." />}
      </Answer>
    </>
  );
}

const overs = [["brace", "brace height"], ["button", "button"], ["arrow", "arrow"]] as const;

// Two places to compare, typed as what is looked at is typed.
const ends: Record<string, { from: string; to: string; quantity?: string; field?: string; like: string; empty: string }> = {
  brace: { from: "from", to: "to", quantity: "setting", field: "brace_height", like: "21.5 cm", empty: "2 cm below and 1 cm above the set-up" },
  button: { from: "from_turns", to: "to_turns", like: "-2", empty: "two turns out and two turns in" },
  arrow: { from: "from_spine", to: "to_spine", quantity: "spine", field: "static_spine", like: "600", empty: "the softest and the stiffest of what is sold around yours" },
};

function Asking({ bow, setup }: { bow: string; setup: string }) {
  const person = useMe().me?.person;
  const [query, setQuery] = useAddress();
  const over = ends[query.over ?? ""] ? query.over! : "brace";
  const [repeat, setRepeat] = useDraft<Query>("repeatability", {});
  const asked = { setup, over, group: query.group || undefined, ...placesOf(query, over), repeatability: repeatOf(repeat) };
  const key = useSettled(JSON.stringify([asked, person?.units, person?.decimal_comma, person?.hand]), 800);
  const answer = useLong<View>("/forgiveness", asked, key);
  const problem = answer.problem, view = answer.value;
  if (problem?.at("/arrow/spine") || problem?.at("/arrow/mass")) return <NeedsArrow bow={bow} problem={problem} />;
  return (
    <>
      <div class="row chips" role="group" aria-label="Looked at against">
        {overs.map(([key, name]) => <button key={key} type="button" class="chip" aria-pressed={over === key} onClick={() => setQuery({ ...query, over: key === "brace" ? "" : key })}>{capital(name)}</button>)}
      </div>
      <Places over={over} query={query} onQuery={setQuery} problem={problem} />
      <Running of={answer} what="Shooting arrows with every error on the model…" />
      {problem && !problem.fields.some((f) => beside.test(f.field)) && <Note kind="warn"><p>No answer yet. {told(problem)}</p><button type="button" onClick={answer.again}>Try once more</button></Note>}
      {view && <Answered view={view} stale={answer.share !== null || view.over !== over} />}
      <Assumed sources={view?.sources ?? unanswered} repeat={repeat} onRepeat={setRepeat} problem={problem} />
      <BowDoors bow={bow} here="forgiveness" />
    </>
  );
}

// placesOf sends what is typed; plain numbers as numbers where they are some.
function placesOf(query: Query, over: string): Record<string, unknown> {
  const { from, to, quantity } = ends[over]!;
  return Object.fromEntries([from, to].filter((n) => query[n]?.trim()).map((n) => [n, quantity ? query[n] : numberOf(query[n]!)]));
}

// beside are the fields that show their own errors.
const beside = /^\/((from|to)(_turns|_spine)?|group|repeatability\/.+)$/;

// unanswered are the errors before any answer has said what it takes for them.
const unanswered: Source[] = ([
  ["aim", "the aim", "angle", ""], ["arm_rate_radps", "a moving bow arm", "", "rad/s"], ["bow_torque_nm", "the hand's torque", "", "N m"], ["release_size_ratio", "the size of the release", "", "of the draw force"],
  ["release_side", "the draw hand's side", "setting", ""], ["draw_length", "draw length", "setting", ""], ["nock_fit", "nock fit", "preload", ""], ["arrow_mass", "arrow mass", "mass", ""], ["spine", "spine from arrow to arrow", "spine", ""],
] as const).map(([field, label, quantity, unit]) => ({ name: field, field, label, quantity, unit, value: 0, text: "", assumed: true }));

const plain = ["arm_rate_radps", "bow_torque_nm", "release_size_ratio"];

function repeatOf(repeat: Query): Record<string, unknown> {
  return Object.fromEntries(Object.entries(repeat).filter(([, v]) => v.trim()).map(([n, v]) => [n, plain.includes(n) ? numberOf(v) : v]));
}

// numberOf gives a plain number, or the text for the notebook to name.
const numberOf = (text: string): number | string => (/^[+-]?\d+([.,]\d+)?$/.test(text.trim()) ? Number(text.trim().replace(",", ".")) : text);

function Places({ over, query, onQuery, problem }: { over: string; query: Query; onQuery: (q: Query) => void; problem?: Problem }) {
  const e = ends[over]!;
  const at = (name: string, label: string) => ({ name, label, value: query[name] ?? "", placeholder: `like ${e.like}`, error: problem?.at(`/${name}`), onInput: (v: string) => onQuery({ ...query, [name]: v }) });
  const field = (name: string, label: string) => (e.quantity ? <Quantity {...at(name, label)} quantity={e.quantity} field={e.field} /> : <Field {...at(name, label)} inputMode="text" />);
  const unit = over === "button" ? ", turns added" : "";
  return (
    <fieldset>
      <legend>What you compare</legend>
      <p class="help">Left empty: {e.empty}.</p>
      <div class="two">
        {field(e.from, `From${unit}`)}
        {field(e.to, `To${unit}`)}
      </div>
      <Quantity label="Your own group at 70 m, sideways, one standard deviation" name="group" quantity="impact" value={query.group ?? ""} placeholder="like 15 cm" error={problem?.at("/group")}
        help="Anchors the total: what the named errors do not make of it is called unexplained." onInput={(v) => onQuery({ ...query, group: v })} />
    </fieldset>
  );
}

function Answered({ view, stale }: { view: View; stale: boolean }) {
  const comma = useComma();
  return (
    <div aria-busy={stale} class={stale ? "stale" : undefined}>
      <section class="card">
        <h2>In one sentence</h2>
        <p class="lead" aria-live="polite">{view.summary}</p>
        {view.unexplained && <p>Of your measured group the named errors leave <strong class="num">{view.unexplained.text}</strong> unexplained; it is not spread over them.</p>}
        {view.figures.map((f) => <Stack key={f.title} figure={f} comma={comma} />)}
        {view.vertical_reason && <p class="doubt">In height nothing is said: {view.vertical_reason}.</p>}
        <Rows view={view} />
        {view.rows.some((r) => r.height) && <Heights view={view} />}
      </section>
      <section class="card">
        <h2>{capital(view.compared || "The two compared")}</h2>
        <p class="doubt">A direction is named only where both models of the string agree in four of five plausible set-ups; "cannot tell" is an answer. 72 arrows either way show a change of {Math.round(view.shown_by_72_arrows_percent)} %.</p>
        {view.changes.map((c) => <Treated key={c.treatment} of={c} />)}
        <details><summary>What it rests on</summary>
          <ul class="plain">{view.notes.map((n) => <li key={n}>{n}</li>)}</ul>
          <p class="doubt">Arrows shot with all errors at once spread {view.ghosts_over_linear_ratio.toFixed(2).replace(".", comma ? "," : ".")} times as wide as the sum of each error alone says: near 1, the sum may be trusted.</p>
        </details>
        <Cautions lines={view.cautions} />
      </section>
    </div>
  );
}

const signs: Record<string, string> = { "1": "grows", "-1": "shrinks", "0": "cannot tell" };

function Treated({ of: c }: { of: Change }) {
  return (
    <div class="treated">
      <h3>{capital(c.treatment)}: {c.retuned_ratio < 0.5 ? "not possible" : signs[String(c.sign)]}</h3>
      <p>{c.sentence}</p>
      {c.by_source.length > 0 && <details>
        <summary>Error by error</summary>
        <p class="num">All without the aim: {c.change.text} <span class="doubt">({c.change.doubt})</span>; with the other model of the string {c.change_other_string.text} <span class="doubt">({c.change_other_string.doubt})</span>.</p>
        <ul class="plain">{c.by_source.map((s) => <li key={s.name}>{capital(s.label)}: {s.text}</li>)}</ul>
      </details>}
    </div>
  );
}

function Rows({ view }: { view: View }) {
  return (
    <details>
      <summary>The numbers behind it</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="Spread by error">
        <table class="num">
          <thead><tr><th scope="col">at</th><th scope="col">sideways at 70 m</th>{view.sources.map((s) => <th key={s.name} scope="col">{s.label}</th>)}<th scope="col">bare shaft</th></tr></thead>
          <tbody>{view.rows.map((r) => (
            <tr key={r.at.si}>
              <th scope="row">{r.at.text}</th><td><strong>{r.sideways.text}</strong><br /><span class="doubt">({r.sideways.doubt})</span></td>
              {view.sources.map((s) => <td key={s.name}>{r.by_source[s.name]?.text}</td>)}
              <td>{r.in_window ? "can be read" : `tells nothing: ${r.window_reason}`}</td>
            </tr>
          ))}</tbody>
        </table>
      </div>
      <p class="doubt">One standard deviation each; the errors add up in squares. In brackets: where 90 % of the plausible set-ups lie; the parts are the middle set-up's and carry its share of that doubt.</p>
    </details>
  );
}

const upWords: Record<string, string> = {
  aim: "aim", arm_pitch_rate: "bow arm pitching", hook_pressure: "fingers' share of the pull", hand_pressure: "where the hand presses", release_lift: "release up or down",
  draw_length: "draw length", nock_fit: "nock fit", arrow_mass: "arrow mass", spine: "spine, arrow to arrow",
};

// Heights is the same up and down, of the middle bow.
function Heights({ view }: { view: View }) {
  const names = Object.keys(upWords);
  return (
    <details>
      <summary>In height</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="Spread in height by error">
        <table class="num">
          <thead><tr><th scope="col">at</th><th scope="col">in height at 70 m</th>{names.map((n) => <th key={n} scope="col">{upWords[n]}</th>)}</tr></thead>
          <tbody>{view.rows.filter((r) => r.height).map((r) => (
            <tr key={r.at.si}><th scope="row">{r.at.text}</th><td><strong>{r.height!.text}</strong></td>{names.map((n) => <td key={n}>{r.by_source_height?.[n]?.text}</td>)}</tr>
          ))}</tbody>
        </table>
      </div>
      <p class="doubt">One standard deviation each, of the middle bow, without gusts. A millimetre of hook and of hand and half a per cent of upward release are assumed; no doubt is given yet.</p>
    </details>
  );
}

// Assumed lists what every error was taken as; each can be replaced by the
// archer's own, which is kept on this device.
function Assumed({ sources, repeat, onRepeat, problem }: { sources: Source[]; repeat: Query; onRepeat: (next: Query) => void; problem?: Problem }) {
  const wrong = (s: Source) => problem?.at(`/repeatability/${s.field}`);
  return (
    <details class="section" open={sources.some((s) => wrong(s) !== undefined) || undefined}>
      <summary><span>How well you repeat</span><span class="faint small">{sources.every((s) => s.assumed) ? "all assumed" : `${sources.filter((s) => s.assumed).length} of ${sources.length} assumed`}</span></summary>
      <div class="inside">
        <p class="help">One standard deviation of each. What is assumed is that of a good club archer with a clicker and matched arrows; replace it where you have measured.</p>
        {sources.map((s) => {
          const shared = {
            label: `${capital(s.label)}${s.unit ? `, ${s.unit}` : ""}`, name: s.field, value: repeat[s.field] ?? "", placeholder: s.text, error: wrong(s),
            help: s.assumed && s.text ? `Assumed: ${s.text}.` : undefined, onInput: (v: string) => onRepeat(v === "" ? without(repeat, s.field) : { ...repeat, [s.field]: v }),
          };
          return s.quantity ? <Quantity key={s.name} {...shared} quantity={s.quantity} /> : <Field key={s.name} {...shared} inputMode="decimal" />;
        })}
        <button type="button" class="quiet" disabled={Object.keys(repeat).length === 0} onClick={() => onRepeat({})}>Assume all of them again</button>
      </div>
    </details>
  );
}

const without = (q: Query, name: string): Query => { const { [name]: _, ...rest } = q; return rest; };
