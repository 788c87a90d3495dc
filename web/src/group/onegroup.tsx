import { useComma } from "../lib/me";
import { capital, number } from "../lib/words";
import { Note } from "../ui/field";
import { Expect } from "./expect";
import { FacePicture } from "./picture";
import { useImpacts } from "./standing";
import type { Face, Group, Ranged } from "./types";
import { useFaceLength } from "./words";

// OneGroup is one set-up's arrows at one distance: the finding in words, the
// picture, the numbers, and what stands out.
export function OneGroup({ bow, group: g, face, faces }: { bow: string; group: Group; face: Face; faces: Face[] }) {
  const impacts = useImpacts(bow, g);
  const says = g.sentences.join(" ");
  return (
    <div class="two">
      <div>
        {g.n_arrows > 0 ? <FacePicture face={face} group={g} impacts={impacts.list} says={says} /> : <p class="note">Only rings were called: there is no picture of places.</p>}
        {!impacts.done && !impacts.problem && g.n_arrows > 0 && <p class="waits" role="status">{impacts.list.length.toLocaleString()} of {g.n_arrows.toLocaleString()} arrows drawn…</p>}
        {impacts.problem && <p class="error">Not all arrows could be drawn: {impacts.problem.message}</p>}
      </div>
      <div>
        <Sigma g={g} />
        <ul class="plain-list">{g.sentences.slice(g.sigma_m.value === null ? 0 : 1).map((s) => <li key={s}>{s}</li>)}</ul>
        {g.can_see && <Note><strong>What so many arrows can show.</strong> {g.can_see}</Note>}
        {g.warnings.length > 0 && <Note kind="warn"><ul>{g.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
        <Numbers g={g} />
        <Expect group={g} faces={faces} />
        <ByRings g={g} />
        <Offsets g={g} />
        <Odd g={g} />
        {g.assumptions.length > 0 && <details><summary>What this assumes</summary><ul>{g.assumptions.map((a) => <li key={a}>{capital(a)}</li>)}</ul></details>}
      </div>
    </div>
  );
}

function Sigma({ g }: { g: Group }) {
  const sigma = g.shown.find((s) => s.name === "sigma"), length = useFaceLength();
  if (sigma) return <p><span class="big num">{sigma.text}</span> <span class="faint">spread of one axis</span><br /><span class="doubt num">{sigma.doubt}, 95 % interval</span></p>;
  const by = g.rings?.sigma_m;
  if (by?.value != null) return <p><span class="big num">{length(by.value)}</span> <span class="faint">spread of one axis, by rings alone</span><br /><span class="doubt num">{by.low === null || by.high === null ? "not bounded" : `${length(by.low)} to ${length(by.high)}, 95 % interval`}</span></p>;
  return <p><strong class="big">Cannot tell yet</strong></p>;
}

// Numbers is the table behind the words.
function Numbers({ g }: { g: Group }) {
  const length = useFaceLength(), comma = useComma();
  const ranged = (r: Ranged, show: (v: number) => string): [string, string] => [r.value === null ? "–" : show(r.value), r.low === null || r.high === null ? "none to give" : `${show(r.low)} to ${show(r.high)}`];
  const side = (v: number) => `${v < 0 ? "−" : ""}${length(Math.abs(v))}`;
  const plain = (v: number | null): [string, string] => [v === null ? "–" : length(v), "a description, not an estimate"];
  const points = (v: number) => number(v, 2, comma);
  const rows: [string, [string, string]][] = [
    ["Spread about the ends' centres, both axes pooled", ranged(g.sigma_m, length)], ["Spread sideways", ranged(g.sigma_x_m, length)], ["Spread in height", ranged(g.sigma_y_m, length)],
    ["Centre, right of the middle", ranged(g.centre_m.x, side)], ["Centre, above the middle", ranged(g.centre_m.y, side)],
    ["Largest distance of two arrows, mean of the ends", plain(g.extreme_spread_m)], ["Mean distance from the ends' centres", plain(g.mean_radius_m)],
  ];
  if (g.sigma_long_run_m) rows.splice(3, 0, ["Spread over all ends, both axes pooled", ranged(g.sigma_long_run_m, length)]);
  if (g.score) rows.push(["Points an arrow, where it hits now", ranged(g.score.per_arrow, points)], ["Points an arrow, centred", ranged(g.score.per_arrow_centred, points)]);
  return (
    <details>
      <summary>The numbers behind it</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="The numbers of this group">
        <table>
          <thead><tr><th scope="col">what</th><th scope="col">value</th><th scope="col">95 % interval</th></tr></thead>
          <tbody>{rows.map(([what, [v, doubt]]) => <tr key={what}><td>{what}</td><td class="num">{v}</td><td class="doubt num">{doubt}</td></tr>)}</tbody>
        </table>
      </div>
      <p class="doubt">{g.n_arrows} arrows with a place in {g.ends} ends{g.n_ring_only > 0 && `, ${g.n_ring_only} with a ring only`}{g.n_missed > 0 && `, ${g.n_missed} missed`}.</p>
    </details>
  );
}

// ByRings is what the arrows of which only the ring is known tell by
// themselves, and how much the rings keep of what places would tell.
function ByRings({ g }: { g: Group }) {
  const length = useFaceLength(), comma = useComma(), r = g.rings;
  if (!r || r.sigma_m.value === null) return null;
  const { value, low, high } = r.sigma_m;
  return (
    <details open={g.n_arrows === 0}>
      <summary>By rings alone</summary>
      <p><strong class="num">{length(value)}</strong> spread of one axis <span class="doubt num">({low === null || high === null ? "not bounded" : `${length(low)} to ${length(high)}`}, 95 %)</span>, from {r.n_arrows} arrows by their rings.{r.information_kept !== null && ` Rings keep ${number(100 * r.information_kept, 0, comma)} % of what places would tell of the spread, and nothing of its direction.`}</p>
      {r.warnings.length > 0 && <ul>{r.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul>}
    </details>
  );
}

// Offsets lists the numbered arrows with how far each flies from where its
// ends are; those that always fly out are said so in words.
function Offsets({ g }: { g: Group }) {
  const length = useFaceLength();
  if (g.arrow_offsets.length === 0) return null;
  const out = g.arrow_offsets.filter((o) => o.flies_out);
  const way = (v: number, plus: string, minus: string) => `${length(Math.abs(v))} ${v < 0 ? minus : plus}`;
  return (
    <details open={out.length > 0}>
      <summary>Arrow by arrow: {out.length === 0 ? "none always flies out" : out.length === 1 ? `number ${out[0]!.arrow} always flies out` : `${out.length} always fly out`}</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="Arrow by arrow">
        <table>
          <thead><tr><th scope="col">number</th><th scope="col">from its ends' centres</th><th scope="col">doubt</th><th scope="col">shots</th></tr></thead>
          <tbody>
            {g.arrow_offsets.map((o) => (
              <tr key={o.arrow} class={o.flies_out ? "here" : ""}>
                <th scope="row">{o.arrow}{o.flies_out && <> <strong>flies out</strong></>}</th>
                <td class="num">{way(o.x_m, "right", "left")}, {way(o.y_m, "high", "low")}</td>
                <td class="doubt num">{o.radius_m === null ? "none to give" : `within ${length(o.radius_m)}`}</td>
                <td class="num">{o.n_shots}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <p class="doubt">The doubt is the radius of the 95 % circle about each offset. "Flies out" allows for having looked at every arrow.</p>
    </details>
  );
}

function Odd({ g }: { g: Group }) {
  const length = useFaceLength();
  if (g.outliers.length === 0) return null;
  return (
    <details>
      <summary>{g.outliers.length === 1 ? "One arrow lies" : `${g.outliers.length} arrows lie`} further out than the rest explain</summary>
      <ul>{g.outliers.slice(0, 50).map((o) => <li key={`${o.end_id}${o.index}`}>End {o.end}, {o.arrow ? `number ${o.arrow}` : `arrow ${o.index + 1}`}: {length(o.radius_m)} from its end's centre</li>)}</ul>
      <p class="doubt">Flagged, never left out: they are in every figure.</p>
    </details>
  );
}
