import { useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { capital } from "../lib/words";
import { Chart, type Figure } from "../ui/chart";
import { Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";

interface Row { label: string; measure: string; distance_m: number; ends: number; days: number; text: string; warnings: string[]; setups: { setup: string; label: string; ends: number; days: number }[] }
interface ObservedView { rows: Row[]; text: string; figures: Figure[] }

// Observed is what ordinary ends show over the days: evidence beside the
// trials, and said to be less than one.
export function Observed({ bow }: { bow: string }) {
  const got = useGet<ObservedView>(`/bows/${bow}/observed`);
  const comma = useComma(), v = got.value;
  if (got.problem?.status === 404) return null; // a notebook that does not look over the days
  return (
    <section class="card" aria-label="Every arrow counts">
      <h2>Every arrow counts</h2>
      <p>Ordinary ends join the set-up they were shot with. The days' own level is taken out; what is left is observed, not randomised: days can differ for reasons nobody noted.</p>
      {!v && (got.problem ? <Wrong problem={got.problem} again={got.again} /> : <Waits what="Looking over the days…" />)}
      {v && <p class="lead">{v.text}</p>}
      {v?.rows.map((r, k) => (
        <div key={`${r.measure}${r.distance_m}${r.label}`}>
          {v.figures[k] && <Chart figure={v.figures[k]} comma={comma} />}
          <p class="doubt">{r.ends} ends on {r.days} {r.days === 1 ? "day" : "days"}. {r.setups.map((s, i) => `${i + 1}: ${s.label} (${s.ends} ends)`).join("; ")}.</p>
          {r.warnings.length > 0 && <Note kind="warn"><ul>{r.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
        </div>
      ))}
    </section>
  );
}
