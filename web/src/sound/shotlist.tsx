import { useComma } from "../lib/me";
import { number } from "../lib/words";
import type { Mark } from "./edits";
import type { HeardShot } from "./types";

// measuredOf finds what was measured of a shot as it was last saved.
export const measuredOf = (m: Mark, shots: HeardShot[]): HeardShot | undefined =>
  shots.find((s) => (m.auto ? s.auto_release_s !== null && Math.abs(s.auto_release_s - m.auto.release_s) < 0.01 : s.auto_release_s === null && Math.abs(s.release_s - m.release) < 0.06));

// ShotList is every shot as a button, in order.
export function ShotList({ marks, chosen, choose, shots }: { marks: Mark[]; chosen?: Mark; choose: (m: Mark) => void; shots: HeardShot[] }) {
  const comma = useComma();
  if (marks.length === 0) return <p>No shot was found. Bring the cursor to where one is and add it.</p>;
  return (
    <ol class="shots" aria-label="Shots">
      {marks.map((m, i) => {
        const measured = measuredOf(m, shots), level = measured?.measures.find((x) => x.name === "exposure_db_rel");
        const words = [m.struck && "struck out", !m.auto && "added", m.auto && m.changed && !m.struck && "moved", m.tie?.arrow && `arrow ${m.tie.arrow}`, m.tie?.ring && `scored ${m.tie.ring}`, measured && measured.clipped > 0 && "clipped"].filter(Boolean).join(", ");
        return (
          <li key={m.key}>
            <button type="button" class={m.struck ? "struck" : ""} aria-pressed={m === chosen} onClick={() => choose(m)}>
              <strong>{i + 1}</strong> <span class="num">{number(m.release, 2, comma)} s</span> {!m.struck && level?.value !== null && level && <span class="num faint">{level.text}</span>}
              {words && <span class="state">{words}</span>}
            </button>
          </li>
        );
      })}
    </ol>
  );
}
