import type { Place } from "../group/geometry";
import type { Zone } from "../group/types";
import { fitConic, mapped, PhotoProblem, rectifier } from "./circles";
import { inverse, type Mat } from "./matrix";
import { median, refined, type Fit, type OnRing } from "./refine";

// Finding the rings of a printed face in its picture: from a tap near the
// middle outwards, by the colours. Only edges between two colours are used;
// the thin lines inside one colour are left alone.

export interface Pixels { width: number; height: number; data: ArrayLike<number> } // four bytes a pixel

type Colour = [number, number, number];

// Edge is where one colour of a face ends and the next begins, m.
export interface Edge { radius: number; width: number; inside: string; outside: string }

// edgesOf lists the edges between colours, from the inside.
export function edgesOf(zones: Zone[]): Edge[] {
  const last = (at: number) => { for (let k = at; k > 0; k--) if (zones[k - 1]!.colour !== zones[at]!.colour) return zones[k - 1]!.radius_m; return 0; };
  return zones.slice(0, -1).flatMap((z, i) => {
    const next = zones[i + 1]!;
    if (next.colour === z.colour) return [];
    return [{ radius: z.radius_m, width: Math.min(next.radius_m - z.radius_m, z.radius_m - (zones[i - 1]?.radius_m ?? last(i))), inside: z.colour, outside: next.colour }];
  });
}

// sample is the colour at a place between pixels; undefined outside.
export function sample(from: Pixels, x: number, y: number): Colour | undefined {
  const i = Math.floor(x), j = Math.floor(y);
  if (!(i >= 0 && j >= 0 && i + 1 < from.width && j + 1 < from.height)) return undefined;
  const u = x - i, v = y - j, at = 4 * (j * from.width + i), below = at + 4 * from.width, d = from.data;
  const mix = (k: number) => (1 - v) * ((1 - u) * d[at + k]! + u * d[at + 4 + k]!) + v * ((1 - u) * d[below + k]! + u * d[below + 4 + k]!);
  return [mix(0), mix(1), mix(2)];
}

const rays = 90;
const help = "Mark two rings by hand.";

// findRings fits the face to the picture from a tap inside the gold.
export function findRings(from: Pixels, tap: Place, zones: Zone[]): Fit {
  const edges = edgesOf(zones);
  const gold = edges.findIndex((e) => e.inside === "gold" && e.outside === "red"), red = edges.findIndex((e) => e.inside === "red" && e.outside === "blue");
  if (gold < 0 || red < 0) throw new PhotoProblem(`This face has no gold, red and blue to look for. ${help}`);
  let fit = seed(from, tap, edges[gold]!.radius, edges[red]!.radius);
  for (let upTo = red + 1; upTo <= edges.length; upTo++) fit = again(from, fit, edges.slice(0, upTo));
  fit = again(from, fit, edges);
  if (fit.used.length < 3 * rays / 4 || fit.residual > 0.02 * zones.at(-1)!.radius_m) throw new PhotoProblem(`The rings found do not fit this face. ${help}`);
  return fit;
}

// seed finds gold to red and red to blue, without knowing the size yet.
function seed(from: Pixels, tap: Place, gold: number, red: number): Fit {
  const inner: Place[] = [], outer: Place[] = [];
  for (let k = 0; k < rays; k++) {
    const way = { x: Math.cos((2 * Math.PI * k) / rays), y: Math.sin((2 * Math.PI * k) / rays) };
    const colours = along(from, tap, way);
    const a = firstLasting(colours, 0, (c) => (c[0] - c[1]) / sumOf(c) > 0.22);
    const b = a < 0 ? -1 : firstLasting(colours, a, (c) => (c[0] - c[2]) / sumOf(c) < 0.07);
    if (b < 0) continue;
    inner.push({ x: tap.x + a * way.x, y: tap.y + a * way.y });
    outer.push({ x: tap.x + b * way.x, y: tap.y + b * way.y });
  }
  if (inner.length < rays / 3) throw new PhotoProblem(`No gold with red and blue around it was found there. Tap inside the gold, or: ${help.toLowerCase()}`);
  const [c1, c2] = [onEllipse(inner), onEllipse(outer)];
  return refined(rectifier(fitConic(c1), fitConic(c2), red), [...c1.map((p) => ({ ...p, radius: gold })), ...c2.map((p) => ({ ...p, radius: red }))]);
}

const sumOf = (c: Colour): number => c[0] + c[1] + c[2] + 1;

function along(from: Pixels, tap: Place, way: Place): Colour[] {
  const out: Colour[] = [];
  for (let r = 0; ; r++) {
    const c = sample(from, tap.x + r * way.x, tap.y + r * way.y);
    if (!c) return out;
    out.push(c);
  }
}

// firstLasting is where a condition begins to hold and goes on to: a hole or a
// printed line is over sooner.
function firstLasting(colours: Colour[], start: number, holds: (c: Colour) => boolean): number {
  for (let i = start; i < colours.length; i++) {
    const long = 4 + Math.round(0.15 * i), ahead = colours.slice(i, i + long);
    if (holds(colours[i]!) && ahead.length === long && ahead.filter(holds).length >= 0.85 * long) return i;
  }
  return -1;
}

// onEllipse leaves out points far from the ellipse of the others.
function onEllipse(points: Place[]): Place[] {
  let kept = points;
  for (let pass = 0; pass < 4; pass++) {
    const c = fitConic(kept);
    const off = (p: Place) => {
      const x = c[0]! * p.x + c[1]! * p.y + c[2]!, y = c[3]! * p.x + c[4]! * p.y + c[5]!, w = c[6]! * p.x + c[7]! * p.y + c[8]!;
      return Math.abs(x * p.x + y * p.y + w) / (2 * Math.hypot(x, y)); // Sampson's distance, px
    };
    const limit = 1 + 4 * median(kept.map(off)), next = points.filter((p) => off(p) <= limit);
    if (next.length === kept.length) break;
    kept = next;
  }
  return kept;
}

function again(from: Pixels, fit: Fit, edges: Edge[]): Fit {
  const back = inverse(fit.map), points = edges.flatMap((e) => onEdge(from, back, e));
  if (points.length < rays / 2) throw new PhotoProblem(`The rings are not plain enough in this picture. ${help}`);
  return refined(fit.map, points);
}

// onEdge finds an edge between two colours, each ray by its own colours on
// both sides, so that shade and light do not matter.
function onEdge(from: Pixels, back: Mat, e: Edge): OnRing[] {
  const steps = 48, reach = 0.42 * e.width, found: { at: OnRing; contrast: number }[] = [];
  for (let k = 0; k < rays; k++) {
    const way = { x: Math.cos((2 * Math.PI * (k + 0.5)) / rays), y: Math.sin((2 * Math.PI * (k + 0.5)) / rays) };
    const place = (i: number) => { const r = e.radius + reach * ((2 * i) / steps - 1); return mapped(back, { x: r * way.x, y: r * way.y }); };
    const colours: Colour[] = [];
    for (let i = 0; i <= steps; i++) { const p = place(i), c = sample(from, p.x, p.y); if (c) colours.push(c); }
    if (colours.length <= steps) continue;
    const hit = crossing(colours);
    if (hit) found.push({ at: { ...place(hit.at), radius: e.radius }, contrast: hit.contrast });
  }
  const usual = median(found.map((f) => f.contrast));
  return usual < 12 ? [] : found.filter((f) => f.contrast > 0.5 * usual).map((f) => f.at);
}

// crossing is where a run of colours is halfway from the first to the last; it
// must pass there once.
function crossing(run: Colour[]): { at: number; contrast: number } | undefined {
  const part = run.length >> 2, a = middle(run.slice(0, part)), b = middle(run.slice(-part)), d = [0, 1, 2].map((k) => b[k]! - a[k]!), size = d[0]! ** 2 + d[1]! ** 2 + d[2]! ** 2;
  const f = run.map((c) => ((c[0] - a[0]) * d[0]! + (c[1] - a[1]) * d[1]! + (c[2] - a[2]) * d[2]!) / size - 0.5);
  let at = -1;
  for (let i = 1; i < f.length; i++) {
    if (f[i - 1]! < 0 === f[i]! < 0) continue;
    if (at >= 0) return undefined;
    at = i - 1 + f[i - 1]! / (f[i - 1]! - f[i]!);
  }
  return at < 0 ? undefined : { at, contrast: Math.sqrt(size) };
}

const middle = (of: Colour[]): Colour => [0, 1, 2].map((k) => median(of.map((c) => c[k]!))) as Colour;
