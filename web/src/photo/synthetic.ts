import type { Place } from "../group/geometry";
import type { Zone } from "../group/types";
import { mapped } from "./circles";
import { inverse, multiply, type Mat } from "./matrix";
import type { Pixels } from "./rings";

// Pictures of a face for the tests: a pinhole camera, shade, blur and noise.
// No page imports this.

const colours: Record<string, [number, number, number]> = { gold: [248, 212, 40], red: [215, 55, 60], blue: [40, 150, 205], black: [38, 38, 42], white: [238, 236, 230] };
const names = ["gold", "gold", "red", "red", "blue", "blue", "black", "black", "white", "white"];

export const zones122: Zone[] = names.map((colour, i) => ({ radius_m: 0.061 * (i + 1), points: 10 - i, label: String(10 - i), colour }));

// seeded gives numbers from 0 to 1 (mulberry32).
export function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

const wide = 1600, high = 1200;

// camera maps the face (m) to pixels, tilted by so many degrees about an axis
// in any direction, turned a little, 2 to 3.5 m away.
export function camera(rng: () => number, tilt: number): Mat {
  const axis = 2 * Math.PI * rng(), turn = 0.2 * (rng() - 0.5), away = 2 + 1.5 * rng(), t = (tilt * Math.PI) / 180;
  const about = (a: number): Mat => [Math.cos(a), -Math.sin(a), 0, Math.sin(a), Math.cos(a), 0, 0, 0, 1];
  const lean: Mat = [1, 0, 0, 0, Math.cos(t), -Math.sin(t), 0, Math.sin(t), Math.cos(t)];
  const r = multiply(about(turn), multiply(about(axis), multiply(lean, about(-axis)))), f = 0.72 * high * away / 1.3;
  const pose: Mat = [r[0]!, r[1]!, 0.05 * (rng() - 0.5), r[3]!, r[4]!, 0.05 * (rng() - 0.5), r[6]!, r[7]!, away];
  return multiply([f, 0, wide / 2, 0, -f, high / 2, 0, 0, 1], pose);
}

// picture is what the camera sees: the face on its paper before a bale, with
// holes.
export function picture(h: Mat, holes: Place[], rng: () => number): Pixels {
  const back = inverse(h), sharp = new Float32Array(3 * wide * high), shade = [0.5 * (rng() - 0.5), 0.5 * (rng() - 0.5)];
  for (let y = 0; y < high; y++) for (let x = 0; x < wide; x++) {
    const c = [0, 0, 0];
    for (const [u, v] of [[-0.25, -0.25], [0.25, 0.25]] as const) { const s = colourAt(mapped(back, { x: x + u, y: y + v }), holes); for (let k = 0; k < 3; k++) c[k]! += s[k]! / 2; }
    const light = 0.85 + shade[0]! * (x / wide - 0.5) + shade[1]! * (y / high - 0.5);
    for (let k = 0; k < 3; k++) sharp[3 * (y * wide + x) + k] = c[k]! * light;
  }
  const twice = (one: Float32Array): Float32Array => blurred(blurred(one, 3, wide), 3 * wide, high);
  let soft = twice(sharp);
  for (let more = Math.floor(3 * rng()); more > 0; more--) soft = twice(soft); // one to three times a pixel: out of focus, or moved
  const data = new Uint8ClampedArray(4 * wide * high), noise = 3 + 5 * rng();
  for (let i = 0; i < wide * high; i++) {
    for (let k = 0; k < 3; k++) data[4 * i + k] = soft[3 * i + k]! + noise * 2 * (rng() + rng() + rng() - 1.5); // three of them: a standard deviation of 1/2
    data[4 * i + 3] = 255;
  }
  return { width: wide, height: high, data };
}

function colourAt(p: Place, holes: Place[]): readonly [number, number, number] {
  for (const at of holes) { const d = Math.hypot(p.x - at.x, p.y - at.y); if (d < 0.003) return [25, 22, 20]; if (d < 0.0045) return [225, 220, 205]; }
  const r = Math.hypot(p.x, p.y), k = Math.floor(r / 0.061), name = names[k];
  if (!name) return Math.max(Math.abs(p.x), Math.abs(p.y)) < 0.64 ? colours.white! : [176, 148, 96];
  const line = r - 0.061 * k < 0.002 && k > 0 && names[k - 1] === name;
  return line ? (name === "black" ? colours.white! : colours.black!) : colours[name]!;
}

// blurred smooths along one direction with weights 1 4 6 4 1, a standard
// deviation of one pixel.
function blurred(from: Float32Array, stride: number, length: number): Float32Array {
  const out = new Float32Array(from.length);
  for (let i = 0; i < from.length; i++) {
    const at = Math.floor(i / stride) % length, tap = (d: number) => from[at + d < 0 || at + d >= length ? i : i + d * stride]!;
    out[i] = (6 * tap(0) + 4 * (tap(-1) + tap(1)) + tap(-2) + tap(2)) / 16;
  }
  return out;
}
