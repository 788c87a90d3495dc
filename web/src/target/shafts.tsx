import { Cautions } from "../bow/forecast";
import { useBow } from "../lib/bar";
import { useGet, useSettled } from "../lib/load";
import { told } from "../lib/http";
import { useMe } from "../lib/me";
import { useAddress } from "../lib/query";
import { useTitle } from "../lib/route";
import type { BowView, Doubted, Shown } from "../lib/types";
import { capital } from "../lib/words";
import { Facts, Note, Quantity } from "../ui/field";
import { Answer } from "../ui/states";
import { BowDoors, NeedsSetUp } from "./doors";
import { MiniFace } from "./miniface";
import { Running, useLong } from "./long";
import type { Face } from "./types";
import { reach, side } from "./words";

interface Shaft {
  spine: Shown; shaft_length: Shown; past_rest: Shown; point_mass: Shown; arrow_mass: Shown; mass_per_draw_weight: string; balance: Shown; balance_forward: string;
  below_minimum_mass: boolean; bare_minus_fletched: Doubted; tail_clearance: Doubted; speed: Doubted; near_share_ratio: number; in_window: boolean; window_reason: string;
}
interface View { shafts: Shaft[]; present?: Shaft; face: Face; distance: Shown; borrow: boolean; advice: string; plausible_setups: number; cautions: string[]; notes: string[] }

// ShaftsPage lists a few shafts to borrow for this bow and draw, each with
// where its bare shaft would land and how it clears the button.
export function ShaftsPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Shafts to try: ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "Bow"}</a></p>
      <h1>Shafts to try</h1>
      <Answer of={bow} what="Opening the bow…">
        {(view) => view.setup ? <List key={view.setup.setup.id} bow={id} setup={view.setup.setup.id} /> : <NeedsSetUp bow={id} what="A list of shafts needs the bow's settings: draw length, draw weight and brace height. No arrow need be known." />}
      </Answer>
    </>
  );
}

function List({ bow, setup }: { bow: string; setup: string }) {
  const [query, setQuery] = useAddress();
  const person = useMe().me?.person;
  const body = { setup, reach: query.reach || undefined, points: points(query.points) };
  const key = useSettled(JSON.stringify([body, person?.units, person?.decimal_comma, person?.hand]), 700);
  const list = useLong<View>("/shafts", body, key);
  const problem = list.problem;
  return (
    <>
      <fieldset>
        <legend>What you look for</legend>
        <Quantity label="Reaches past the rest at full draw by at least" name="reach" quantity="setting" value={query.reach ?? ""} placeholder="25 mm" error={problem?.at("/reach")}
          help="Left empty: 25 mm, which new and growing archers need; the coach decides." onInput={(v) => setQuery({ ...query, reach: v })} />
        <Quantity label="Point mass, insert included" name="points" quantity="mass" field="point_mass" value={query.points ?? ""} placeholder="like 100 gr" error={problem?.at("/points/0")}
          help="Left empty: four usual ones for your draw weight." onInput={(v) => setQuery({ ...query, points: v })} />
      </fieldset>
      <Running of={list} what="Shooting shafts on the model…" />
      {problem && !problem.at("/reach") && !problem.at("/points/0") && <Note kind="warn"><p>No list yet. {told(problem)}</p><button type="button" onClick={list.again}>Try once more</button></Note>}
      {list.value && <Found view={list.value} bow={bow} stale={list.share !== null} />}
      <BowDoors bow={bow} here="shafts" />
    </>
  );
}

const points = (typed: string | undefined) => (typed?.trim() ? [typed] : undefined);

function Found({ view, bow, stale }: { view: View; bow: string; stale: boolean }) {
  const half = Math.max(0.1, ...[...view.shafts, ...(view.present ? [view.present] : [])].flatMap((s) => [s.bare_minus_fletched.low, s.bare_minus_fletched.high].map((v) => Math.abs(v ?? 0))));
  return (
    <div aria-busy={stale}>
      <section class="card"><h2>{view.borrow ? "Borrow first" : "Nothing to borrow yet"}</h2><p>{view.advice}</p><Cautions lines={view.cautions} /></section>
      {!view.borrow && view.shafts.length > 0 && <p>What was tried, the best first:</p>}
      <ol class="shafts">{view.shafts.map((s, i) => <li key={i}><One of={s} n={i + 1} view={view} half={half} bow={bow} /></li>)}</ol>
      {view.present && <section class="card"><h2>Your present arrow, for comparison</h2><Body of={view.present} view={view} half={half} /></section>}
      <section class="card">
        <details><summary>What it rests on</summary><ul class="plain">{view.notes.map((n) => <li key={n}>{n}</li>)}</ul></details>
        <p class="doubt">Spans hold 90 % of {view.plausible_setups} plausible set-ups: bows that meet your readings, with buttons, releases and limb tips as they ordinarily are.</p>
      </section>
    </div>
  );
}

function One({ of: s, n, view, half, bow }: { of: Shaft; n: number; view: View; half: number; bow: string }) {
  const look = new URLSearchParams({ spine: s.spine.text, shaft_length: s.shaft_length.text, point_mass: s.point_mass.text, at: "18 m" });
  return (
    <section class="card">
      <h2>{n}. Spine {s.spine.text}, {s.shaft_length.text}, {s.point_mass.text} point</h2>
      <Body of={s} view={view} half={half} />
      {view.present && <a class="button" href={`/bows/${bow}/target?${look}`}>See it at the target</a>}
    </section>
  );
}

function Body({ of: s, view, half }: { of: Shaft; view: View; half: number }) {
  const d = s.bare_minus_fletched;
  const near = Math.round(s.near_share_ratio * view.plausible_setups);
  return (
    <>
      <div class="shaft">
        <MiniFace face={view.face} d={d} half={half} says={`At ${view.distance.text} the bare shaft lands ${side(d)} of the fletched arrows, ${reach(d)}.`} />
        <div>
          <p>The bare shaft lands <strong>{side(d)}</strong> of the fletched arrows at {view.distance.text} <span class="doubt">({reach(d)})</span>, within a hand's width in {near} of {view.plausible_setups} plausible set-ups.</p>
          <p>The tail passes the button by <strong>{s.tail_clearance.text}</strong> <span class="doubt">({s.tail_clearance.doubt})</span>.</p>
        </div>
      </div>
      {!s.in_window && <Note kind="warn"><strong>Its bare shaft tells nothing.</strong> {capital(s.window_reason)}.</Note>}
      {s.below_minimum_mass && <Note kind="bad"><strong>Do not shoot it:</strong> it is lighter than the bow maker's least.</Note>}
      <Facts rows={[
        ["Spine, length, point", `${s.spine.text}, ${s.shaft_length.text}, ${s.point_mass.text}`], ["Whole arrow", `${s.arrow_mass.text}, ${s.mass_per_draw_weight}`], ["Arrow speed", <>{s.speed.text} <span class="doubt">({s.speed.doubt})</span></>],
        ["Past the rest", s.past_rest.text], ["Balance from the nock", `${s.balance.text}, ${s.balance_forward} forward`],
      ]} />
    </>
  );
}
