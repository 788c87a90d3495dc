import { toPx, type View } from "./geometry";
import type { Impact } from "./types";

// Many impacts are drawn as a density: the picture costs the same for a
// hundred thousand arrows as for a thousand.

// dotsUpTo is how many arrows are drawn one by one.
export const dotsUpTo = 1500;

const cell = 3; // CSS pixels a side

export interface Density { cells: Float32Array; across: number; most: number }

// densityOf counts arrows into the cells of a view, each smoothed over its
// neighbours.
export function densityOf(v: View, impacts: Impact[]): Density {
  const across = Math.ceil(v.size / cell), raw = new Float32Array(across * across);
  for (const i of impacts) {
    if (i.x_m === undefined || i.y_m === undefined) continue;
    const p = toPx(v, { x: i.x_m, y: i.y_m });
    const cx = Math.floor(p.x / cell), cy = Math.floor(p.y / cell);
    if (cx >= 0 && cy >= 0 && cx < across && cy < across) raw[cy * across + cx]!++;
  }
  const cells = smooth(smooth(raw, across), across);
  let most = 0;
  for (const c of cells) if (c > most) most = c;
  return { cells, across, most };
}

// smooth is a binomial blur, one pass along rows and one along columns.
function smooth(raw: Float32Array, across: number): Float32Array {
  const rows = blur(raw, across, 1);
  return blur(rows, across, across);
}

function blur(from: Float32Array, across: number, step: number): Float32Array {
  const out = new Float32Array(from.length);
  for (let k = 0; k < from.length; k++) {
    const at = step === 1 ? k % across : Math.floor(k / across);
    const before = at > 0 ? from[k - step]! : from[k]!, after = at < across - 1 ? from[k + step]! : from[k]!;
    out[k] = (before + 2 * from[k]! + after) / 4;
  }
  return out;
}

// paintDensity lays the density over a pale face: one hue, darker where more
// arrows struck, so that lightness alone tells it.
export function paintDensity(ctx: CanvasRenderingContext2D, d: Density): void {
  if (d.most === 0) return;
  for (let k = 0; k < d.cells.length; k++) {
    const share = d.cells[k]! / d.most;
    if (share < 0.004) continue;
    const depth = Math.sqrt(share); // few arrows stay in sight beside many
    ctx.fillStyle = `rgba(0, ${Math.round(70 - 60 * depth)}, ${Math.round(150 - 90 * depth)}, ${(0.15 + 0.8 * depth).toFixed(3)})`;
    ctx.fillRect((k % d.across) * cell, Math.floor(k / d.across) * cell, cell, cell);
  }
}
