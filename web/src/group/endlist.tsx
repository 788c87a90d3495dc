import { useState } from "preact/hooks";
import { dropRefused } from "../lib/outbox";
import { when } from "../lib/words";
import { Note } from "../ui/field";
import { refusedEnds, type ShownEnd } from "./ends";
import { zoneOf } from "./geometry";
import { bringBack, takeBack } from "./retract";
import type { End, Face } from "./types";

interface Props { ends: ShownEnd[]; faces: Face[]; shaft: number; mine: (e: End) => boolean; correct: (e: End) => void; open?: string }

// EndList shows the ends that stand; each can be corrected or taken back.
export function EndList({ ends, faces, shaft, mine, correct, open }: Props) {
  const [gone, setGone] = useState<End | null>(null);
  const back = refusedEnds(mine);
  if (ends.length === 0 && !gone && back.length === 0) return null;
  return (
    <section class="card" aria-label="Ends noted">
      <h2>Ends noted</h2>
      {back.map(({ end, why, at }) => (
        <Note kind="bad" key={end.id}>
          <p>The notebook could not take end {end.number}: {why}</p>
          <div class="row"><button type="button" onClick={() => { correct({ ...end, corrects: undefined }); dropRefused(at); }}>Open it again</button></div>
        </Note>
      ))}
      {gone && <p role="status">End {gone.number} is taken back. <button type="button" class="quiet small" onClick={() => { bringBack(gone.id); setGone(null); }}>Bring it back</button></p>}
      <ul class="lines">
        {[...ends].reverse().slice(0, 40).map((s) => (
          <li key={s.end.id} class="end-line">
            <span><strong>End {s.end.number ?? ""}</strong> <span class="faint small">{when(s.end.at)}</span>{s.unsent && <span class="unsent">not yet sent</span>}</span>
            <span class="end-rings">{rings(s.end, faces, shaft)}</span>
            <span class="row">
              <button type="button" class="quiet small" disabled={open === s.end.id} onClick={() => correct(s.end)} aria-label={`Correct end ${s.end.number}`}>Correct</button>
              <button type="button" class="quiet small" onClick={() => { takeBack(s.end.id); setGone(s.end); }} aria-label={`Take back end ${s.end.number}`}>Take back</button>
            </span>
            {s.end.note && <span class="faint small">{s.end.note}</span>}
          </li>
        ))}
      </ul>
    </section>
  );
}

// rings writes an end as a score sheet does, with its sum; blank paper has
// neither.
function rings(e: End, faces: Face[], shaft: number): string {
  const face = faces.find((f) => f.key === (e.face || "blank"));
  if (!face || face.zones.length === 0) return `${e.impacts.length} arrows`;
  const zones = e.impacts.map((i) => zoneOf(face, i, shaft));
  const sorted = [...zones].sort((a, b) => (b?.points ?? 0) - (a?.points ?? 0) || (b?.label === "X" ? 1 : 0) - (a?.label === "X" ? 1 : 0));
  return `${sorted.map((z) => z?.label ?? "–").join(" ")}  =  ${zones.reduce((n, z) => n + (z?.points ?? 0), 0)}`;
}
