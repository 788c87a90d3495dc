import { useState } from "preact/hooks";
import { api, post, told } from "../lib/http";
import { useLoaded, useSettled } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { number } from "../lib/words";
import { countOf } from "../trial/words";
import { Choice, Field, Quantity } from "../ui/field";
import { selection } from "./compare";
import type { Face, Group, Ranged } from "./types";
import { useFaceLength } from "./words";

interface Expected { sigma_m: Ranged; expected_total: Ranged; round_total: Ranged; best_total: number; text: string; assumptions: string[] }

// Expect says what this spread scores at any distance on any face, and the
// other way round: which spread a score needs.
export function Expect({ group: g, faces }: { group: Group; faces: Face[] }) {
  const [open, setOpen] = useState(false);
  return (
    <details onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>What it scores at other distances and faces</summary>
      {open && <Form g={g} faces={faces.filter((f) => f.zones.length > 0)} />}
    </details>
  );
}

function Form({ g, faces }: { g: Group; faces: Face[] }) {
  const [distance, setDistance] = useState("");
  const [face, setFace] = useState(faces.some((f) => f.key === g.face) ? g.face : "122");
  const [arrows, setArrows] = useState("72");
  const [score, setScore] = useState("");
  const round = countOf(arrows), points = countOf(score);
  return (
    <>
      <div class="pairs">
        <Quantity label="Distance" quantity="distance" value={distance} onInput={setDistance} name="expect_distance" placeholder={g.distance_m ? `${g.distance_m} m` : "70 m"} />
        <Choice label="Face" value={face} onInput={setFace} options={faces.map((f): [string, string] => [f.key, f.name])} />
        <Field label="Arrows of the round" required inputMode="numeric" value={arrows} onInput={setArrows} name="expect_arrows" />
      </div>
      <Answer ask={{ from: selection(g), face, ...(distance.trim() && { distance: distance.trim() }), ...(round > 0 && { round_arrows: round }) }} whole />
      <Field label="The other way round: points of the round" inputMode="numeric" value={score} onInput={setScore} name="expect_score" placeholder="600" />
      {points > 0 && <Answer ask={{ score: points, face, distance: distance.trim() || (g.distance_m ? `${Math.round(1e6 * g.distance_m)}e-6 m` : ""), ...(round > 0 && { round_arrows: round }) }} />}
    </>
  );
}

function Answer({ ask, whole }: { ask: Record<string, unknown>; whole?: boolean }) {
  const units = useMe().me?.person.units, comma = useComma(), length = useFaceLength();
  const key = useSettled(JSON.stringify([ask, units]), 400);
  const got = useLoaded<Expected>(key, (signal) => post(`${api}/groups/expect`, (JSON.parse(key) as [unknown])[0], signal));
  const v = got.value;
  if (!v) return got.problem ? <p class="error">{told(got.problem)}</p> : <p class="waits">Computing…</p>;
  const points = (n: number | null) => (n === null ? "–" : number(n, 0, comma));
  return (
    <div role="status">
      {whole && v.expected_total.value !== null && (
        <p><span class="big num">{points(v.expected_total.value)}</span> of {v.best_total}<br />
          <span class="doubt num">{v.expected_total.low === null || v.expected_total.high === null ? "not bounded" : `${points(v.expected_total.low)} to ${points(v.expected_total.high)}`} as surely as the spread is known (95 %); spread there {v.sigma_m.value === null ? "–" : length(v.sigma_m.value)}</span></p>
      )}
      <p>{v.text}</p>
      {whole && <ul class="doubt">{v.assumptions.map((a) => <li key={a}>{a}</li>)}</ul>}
    </div>
  );
}
