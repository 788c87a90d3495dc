import type { Doubted } from "../lib/types";
import type { Face } from "./types";

// MiniFace is a small target with one bare shaft on it, its doubt as a line.
// Several beside each other share a scale.

const R = 50;

export function MiniFace({ face, d, half, says }: { face: Face; d: Doubted; half: number; says: string }) {
  const scale = R / Math.max(half * 1.1, face.radius_m * 1.05);
  const x = (m: number | null) => (m ?? 0) * scale;
  return (
    <svg class="miniface face" viewBox={`${-R} ${-R} ${2 * R} ${2 * R}`} role="img" aria-label={says}>
      <rect class="wall" x={-R} y={-R} width={2 * R} height={2 * R} />
      {[...face.zones].reverse().map((z) => <circle key={z.label} class={`ring ${z.colour}`} r={z.radius_m * scale} />)}
      <circle class="hole fletched" r="3" />
      <g class="bare">
        <path class="whisker" d={`M${x(d.low)} 0H${x(d.high)}m0 -3v6M${x(d.low)} -3v6`} />
        <path class="hole" d={`M${x(d.si)} -4l4 4l-4 4l-4 -4z`} />
      </g>
    </svg>
  );
}
