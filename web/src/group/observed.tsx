import { useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { capital, number } from "../lib/words";
import { Effects } from "../shoot/effects";
import { Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import type { Ranged } from "./types";

interface SetUpRow { setup: string; label: string; mean: Ranged; against_reference: Ranged; ends: number; days: number }
interface Row { label: string; measure: string; distance_m: number; ends: number; days: number; text: string; warnings: string[]; reference: string; setups: SetUpRow[] }
interface ObservedView { rows: Row[]; text: string }

// Observed is what ordinary ends show over the days: evidence beside the
// trials, and said to be less than one.
export function Observed({ bow }: { bow: string }) {
  const got = useGet<ObservedView>(`/bows/${bow}/observed`);
  const v = got.value;
  if (got.problem?.status === 404) return null; // a notebook that does not look over the days
  const warnings = [...new Set(v?.rows.flatMap((r) => r.warnings))];
  return (
    <section class="card" aria-label="Every arrow counts">
      <h2>Every arrow counts</h2>
      <p>Ordinary ends join the set-up they were shot with. The days' own level is taken out; what is left is observed, not randomised: days can differ for reasons nobody noted.</p>
      {!v && (got.problem ? <Wrong problem={got.problem} again={got.again} /> : <Waits what="Looking over the days…" />)}
      {v && v.rows.length === 0 && <p class="lead">{v.text}</p>}
      {v?.rows.map((r) => <Against key={`${r.measure}${r.distance_m}`} r={r} />)}
      {warnings.length > 0 && <Note kind="warn"><ul>{warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
    </section>
  );
}

// Against draws every set-up against the one that was shot most, with its
// interval over days.
function Against({ r }: { r: Row }) {
  const comma = useComma(), score = r.measure === "score";
  const reference = r.setups.find((s) => s.setup === r.reference);
  const show = (v: number) => (score && v > 0 ? "+" : "") + number(v, 2, comma);
  const text = ({ value, low, high }: Ranged) =>
    value === null ? "not known" : `${score ? show(value) : `${show(value)} ×`} (${low === null || high === null ? "not bounded" : `${show(low)} to ${show(high)}`})`;
  return (
    <>
      <h3>{score ? "Points an arrow" : "Spread"} at {number(r.distance_m, r.distance_m % 1 ? 1 : 0, comma)} m</h3>
      <p>{r.text}</p>
      <Effects list={r.setups.filter((s) => s !== reference).map((s) => ({ ...s.against_reference, name: score ? "points" : "ratio", unit: "1", label: `${s.label}, ${s.ends} ends on ${s.days} ${s.days === 1 ? "day" : "days"}`, text: text(s.against_reference) }))} />
      <p class="doubt">{score ? "Points more or fewer an arrow" : "Times the spread"} of {reference?.label ?? "the set-up shot most"} ({reference?.ends ?? 0} ends): the dashed line. Bars are 95 % intervals over days.</p>
    </>
  );
}
