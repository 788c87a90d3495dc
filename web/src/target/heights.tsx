import { useEffect, useState } from "preact/hooks";
import { Cautions } from "../bow/forecast";
import { useBow } from "../lib/bar";
import { api, post, told, type Problem } from "../lib/http";
import { useGet, useLoaded, useSettled } from "../lib/load";
import { useMe } from "../lib/me";
import { useAddress, type Query } from "../lib/query";
import { useTitle } from "../lib/route";
import type { BowView, Doubted, Shown } from "../lib/types";
import { capital } from "../lib/words";
import { Facts, Note, Pick, Quantity } from "../ui/field";
import { Answer, Waits } from "../ui/states";
import { HelpLine } from "../ui/helpline";
import { BowDoors, NeedsArrow, NeedsSetUp } from "./doors";
import { BareAgainst, height, TailOverRest, type Read } from "./heightpicture";
import { reach } from "./words";

type Act = "ask" | "read" | "move" | "leave" | "touches" | "cannot tell" | "withheld";
interface View {
  act: Act; say: string; ask: string[]; move?: Shown; to?: Shown; change: Record<string, string>; expected?: Doubted; per_millimetre?: Doubted; calibrated: boolean;
  tail_gap_rest?: Doubted; looks: Doubted[]; in_window: boolean; window_reason: string; window_share_ratio: number; plausible_setups: number; least_gap: Shown;
  nocking_point?: Shown; wire_reach?: Shown; powder_mark: string; tiller: string; notes: string[]; cautions: string[];
}
interface Row { nocking_point: string; distance: string; bare_up: string; untaped: boolean }

// HeightsPage says what a high or low bare shaft means on this bow: first what
// must be looked at, then how far to move the nocking point, or why not.
export function HeightsPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `High or low: ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "Bow"}</a></p>
      <h1>High or low: nocking point and rest</h1>
      <HelpLine to="at-the-target#a-bare-shaft-lands-high-or-low">How to shoot and read it</HelpLine>
      <Answer of={bow} what="Opening the bow…">
        {(view) => view.setup ? <Heights key={view.setup.setup.id} bow={id} setup={view.setup.setup.id} nocking={view.setup.shown["/nocking_point/value"]?.text ?? ""} />
          : <NeedsSetUp bow={id} what="This needs the bow's settings: draw length, draw weight, brace height and the arrow." />}
      </Answer>
    </>
  );
}

function Heights({ bow, setup, nocking }: { bow: string; setup: string; nocking: string }) {
  const [query, setQuery] = useAddress();
  const person = useMe().me?.person;
  const rows = rowsOf(query, nocking), set = setOf(query);
  const key = useSettled(JSON.stringify([setup, set, rows, person?.units, person?.decimal_comma, person?.hand]), 700);
  const asked = useLoaded<View>(key, (signal) => post<View>(`${api}/bows/${bow}/nocking`, { set, readings: rows }, signal));
  const [last, setLast] = useState<View>();
  useEffect(() => { if (asked.value) setLast(asked.value); }, [asked.value]);
  const view = asked.value ?? last, problem = asked.problem;
  if (!view && problem && needsArrow(problem)) return <><NeedsArrow bow={bow} problem={problem} /><BowDoors bow={bow} here="heights" /></>;
  return (
    <>
      <section class="card next-step" aria-live="polite" aria-busy={!asked.value && !problem}>
        {problem && !named(problem) && <Note kind="warn">No answer yet. {told(problem)}</Note>}
        {problem && named(problem) && <Note kind="warn">Something typed cannot be read; it is named beside its field.</Note>}
        {view ? <Advice view={view} bow={bow} set={query} /> : !problem && <Waits what="Asking the model…" />}
      </section>
      {view?.act !== "withheld" && (
        <div class="two">
          <div>
            <Looked query={query} onQuery={setQuery} view={view} problem={problem} />
            <Readings query={query} onQuery={setQuery} nocking={nocking} rows={rows.length} problem={problem} />
          </div>
          {view && <Picture view={view} read={readOf(rows)} />}
        </div>
      )}
      {view && <Rest view={view} />}
      <BowDoors bow={bow} here="heights" />
    </>
  );
}

const needsArrow = (p: Problem) => p.fields.some((f) => f.field.includes("arrow"));
const named = (p: Problem) => p.fields.some((f) => f.field.startsWith("/readings/") || f.field.includes("wire_reach"));

// setOf is what was looked at and is not in the set-up yet.
function setOf(q: Query): Record<string, string> {
  return { ...(q.reach?.trim() && { "rest.wire_reach": q.reach }), ...(q.powder && { "rest.powder_mark": q.powder }) };
}

// rowsOf are the readings that are whole, the latest last.
function rowsOf(q: Query, nocking: string): Row[] {
  const row = (n: string): Row => ({ nocking_point: q[`nock${n}`]?.trim() || (n === "" ? nocking : ""), distance: q[`at${n}`]?.trim() || (n === "" ? "18 m" : q.at?.trim() || "18 m"), bare_up: q[`up${n}`]?.trim() ?? "", untaped: q.taped === "no" });
  return [row(""), row("2")].filter((r) => r.nocking_point && r.bare_up);
}

// readOf puts readings typed in centimetres into the picture; another unit is
// left to the notebook to read.
function readOf(rows: Row[]): Read[] {
  return rows.flatMap((r) => {
    const up = /^([+\-−]?\s*\d+(?:[.,]\d+)?)\s*(cm|mm|in|")?$/.exec(r.bare_up), at = /^(\d+)(?:\s*m)?$/.exec(r.distance);
    if (!up || !at || !up[2]) return [];
    const per = up[2] === "mm" ? 0.001 : up[2] === "cm" ? 0.01 : 0.0254;
    return [{ at: Number(at[1]), up: Number(up[1]!.replace("−", "-").replace(",", ".").replace(/\s/g, "")) * per, text: r.bare_up }];
  });
}

const heads: Record<Act, string> = {
  ask: "Look first", read: "Take a reading", move: "Move the nocking point", leave: "Leave it", touches: "The tail touches the rest", "cannot tell": "Cannot tell", withheld: "Withheld",
};

function Advice({ view, bow, set }: { view: View; bow: string; set: Query }) {
  const kept = new URLSearchParams();
  if (view.change["nocking_point.value"]) { kept.append("pick", "nocking"); kept.append("/nocking_point/value", view.change["nocking_point.value"]); }
  if (set.reach?.trim() || set.powder) kept.append("pick", "rest");
  if (set.reach?.trim()) kept.append("/rest/wire_reach", set.reach);
  if (set.powder) kept.append("/rest/powder_mark", set.powder);
  return (
    <>
      <h2>{heads[view.act]}</h2>
      <p>{view.say}</p>
      {view.to && view.move && <Facts rows={[
        ["Move", <strong class="num">{view.move.text}</strong>], ["Square then reads", <span class="num">{view.to.text}</span>],
        ...(view.expected ? [["Expect at the target", <>{view.expected.text} <span class="doubt">({view.expected.doubt})</span></>] as [string, preact.ComponentChildren]] : []),
      ]} />}
      {kept.size > 0 && <a class="button main" href={`/bows/${bow}/change?${kept}`}>{view.move ? "Make it a change" : "Keep what was looked at"}</a>}
    </>
  );
}

interface Part { query: Query; onQuery: (q: Query) => void; problem?: Problem }

function Looked({ query, onQuery, view, problem }: Part & { view?: View }) {
  return (
    <fieldset>
      <legend>Look first</legend>
      <Quantity label="The rest's wire past the shaft's centre" name="reach" quantity="setting" value={query.reach ?? ""} placeholder={view?.wire_reach?.text ?? "like 1 mm"} onInput={(reach) => onQuery({ ...query, reach })}
        help="Look down on the shaft against the button. A wire that sticks out catches the tail: that decides whether a low bare shaft can be believed." error={problem?.at("/rest/wire_reach") ?? problem?.at("/set/rest.wire_reach")} />
      <Pick label="Powder check" value={query.powder ?? view?.powder_mark ?? ""} onInput={(powder) => onQuery({ ...query, powder })} help="Powder on the shaft's tail and the wire, one shot, then look. Do it again after every move."
        options={[["", "Not looked yet"], ["clean", "Clean: nothing touched"], ["marked", "Marked: the tail touched the wire"]]} />
    </fieldset>
  );
}

function Readings({ query, onQuery, nocking, rows, problem }: Part & { nocking: string; rows: number }) {
  const one = (n: "" | "2", at: number) => (
    <>
      <Quantity label="Nocking point on the square" name={`nock${n}`} quantity="setting" field="nocking_point" value={query[`nock${n}`] ?? ""} placeholder={n === "" && nocking ? nocking : "like 12 mm"} onInput={(v) => onQuery({ ...query, [`nock${n}`]: v })}
        help={n === "" && nocking ? `Left empty: ${nocking}, as set up.` : undefined} error={problem?.at(`/readings/${at}/nocking_point`)} />
      <Quantity label="Distance" name={`at${n}`} quantity="distance" field="distance" value={query[`at${n}`] ?? ""} placeholder={n === "" ? "18 m" : query.at?.trim() || "18 m"} onInput={(v) => onQuery({ ...query, [`at${n}`]: v })} error={problem?.at(`/readings/${at}/distance`)} />
      <Quantity label="Bare above fletched" name={`up${n}`} quantity="impact" value={query[`up${n}`] ?? ""} placeholder="like -6 cm, low" onInput={(v) => onQuery({ ...query, [`up${n}`]: v })}
        help="Middle of the bare shafts less middle of the fletched ones; minus when the bare shafts land low." error={problem?.at(`/readings/${at}/bare_up`)} />
    </>
  );
  return (
    <fieldset>
      <legend>What the bare shafts did</legend>
      <p class="help">Three fletched and three bare at one aim. Then once more with the nocking point moved by 2 mm: two readings teach what a millimetre does on your bow.</p>
      {one("", 0)}
      <Pick label="Bare tails taped to the vanes' mass and balance" value={query.taped ?? "yes"} options={[["yes", "Taped"], ["no", "Not taped"]]} onInput={(taped) => onQuery({ ...query, taped })} />
      <details open={Boolean(query.nock2 || query.up2)}><summary>The second reading, 2 mm away</summary>{one("2", Math.max(0, rows - 1))}</details>
    </fieldset>
  );
}

function Picture({ view, read }: { view: View; read: Read[] }) {
  const at = (name: string) => view.looks.find((d) => d.name === name);
  const near = at("bare_minus_fletched_18m_up"), far = at("bare_minus_fletched_30m_up"), gap = at("tail_gap_rest");
  if (!near || !far || !gap) return null;
  const share = Math.round(100 * view.window_share_ratio);
  return (
    <section class="card">
      <h2>What the model sees</h2>
      <TailOverRest gap={gap} least={view.least_gap.si} leastText={view.least_gap.text} />
      {view.in_window ? <p>A bare shaft's height can be read here: so it is in {share} % of the plausible set-ups.</p>
        : <Note kind="warn"><strong>A bare shaft's height tells nothing here.</strong> {capital(view.window_reason)}.</Note>}
      <BareAgainst near={near} far={far} read={read} />
      <p>At 30 m the modelled bare shaft lands {height(far)} <span class="doubt">({reach(far, "high", "low")})</span>.</p>
      <Facts rows={view.looks.map((d) => [capital(d.label), <>{d.text} <span class="doubt">({d.doubt})</span></>])} />
      {view.per_millimetre && <p class="doubt">{view.calibrated ? "What a millimetre does is from your own two readings" : "What a millimetre does is the model's"}: {view.per_millimetre.text} ({view.per_millimetre.doubt}) at your distance.</p>}
    </section>
  );
}

function Rest({ view }: { view: View }) {
  return (
    <section class="card">
      <h2>Tiller, and what it rests on</h2>
      <p>{view.tiller}</p>
      <Cautions lines={view.cautions} />
      {view.notes.length > 0 && <details><summary>What was assumed</summary><ul class="plain">{view.notes.map((n) => <li key={n}>{n}</li>)}</ul></details>}
    </section>
  );
}
