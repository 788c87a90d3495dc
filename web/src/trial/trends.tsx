import { readDraft } from "../lib/draft";
import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { keptAs, rateWords, type Kept } from "../sound/blind";
import { CopyTable } from "../ui/table";
import type { Trend } from "./types";

// Trends is the table behind the verdict: how each measure goes with brace
// height, and how remarkable its largest departure is; of a pair of brace
// heights, their difference.
export function Trends({ list, pair }: { list: Trend[]; pair: boolean }) {
  const comma = useComma(), ears = readDraft<Kept>(keptAs);
  const show = (v: number | null, digits = 2) => (v === null ? "–" : number(v, digits, comma));
  if (list.length === 0) return null;
  return (
    <details>
      <summary>Every measure in numbers</summary>
      <CopyTable label="Every measure in numbers">
        <table>
          <thead><tr><th scope="col">measure</th><th scope="col">per cm more brace height</th><th scope="col">shots</th><th scope="col">{pair ? "difference" : "largest departure"}, p</th>{!pair && <th scope="col">smallest spot to be seen</th>}</tr></thead>
          <tbody>
            {list.map((t) => (
              <tr key={t.measure}>
                <td>{t.label}{t.measure === "feel" && ears && <><br /><span class="doubt">{rateWords(ears)}</span></>}</td>
                <td class="num">{t.slope_per_cm === null ? "–" : <>{show(t.slope_per_cm)} {t.unit}<br /><span class="doubt">{show(t.slope_low)} to {show(t.slope_high)}</span></>}</td>
                <td class="num">{t.shots}</td>
                <td class="num">{t.p === null ? <span class="doubt">not tested: {t.note}</span> : show(t.p, 3)}</td>
                {!pair && <td class="num">{t.detectable === null ? "–" : `${show(t.detectable, 1)} ${t.unit}`}</td>}
              </tr>
            ))}
          </tbody>
        </table>
      </CopyTable>
      <p class="doubt">{pair
        ? "p is the chance of a difference as large as this where there is none, corrected for the measures compared. The visit is the unit: a setting made once has no repeat of itself."
        : "p is the chance of a departure as large as this where there is none, corrected for the number of stops looked at. The smallest spot is found in 4 of 5 trials like this one."}</p>
    </details>
  );
}
