import type { Face, Impact, Zone } from "./types";

// From the face to the screen and back. Metres on the face: x right and y up
// as seen from the shooting line, from the centre. Pixels: CSS pixels of the
// picture, y down.

export interface Place { x: number; y: number }

// View is which part of the face a square picture shows.
export interface View { x: number; y: number; perPx: number; size: number }

// blankSpan is the width of blank paper shown at first, in metres.
export const blankSpan = 0.6;

// shownSpan is the width of what is shown of a face: a rim around the paper
// takes arrows that missed it. Blank paper is as wide as is asked for.
export const shownSpan = (face: Face, blank = blankSpan): number => (face.zones.length > 0 ? 2.3 * face.zones.at(-1)!.radius_m : blank);

export const wholeView = (face: Face, size: number, blank?: number): View => ({ x: 0, y: 0, perPx: shownSpan(face, blank) / size, size });

// closer shows a part of a view, several times larger.
export const closer = (v: View, at: Place, times: number, size: number = v.size): View => ({ x: at.x, y: at.y, perPx: v.perPx / times, size });

export const toPx = (v: View, p: Place): Place => ({ x: v.size / 2 + (p.x - v.x) / v.perPx, y: v.size / 2 - (p.y - v.y) / v.perPx });

export const toFace = (v: View, px: Place): Place => ({ x: v.x + (px.x - v.size / 2) * v.perPx, y: v.y - (px.y - v.size / 2) * v.perPx });

export const miss: Zone = { radius_m: Infinity, points: 0, label: "M", colour: "" };

// zoneAt scores an arrow by its axis: a shaft that touches a line scores the
// higher zone (the rule and the dimensions are group/face.go's).
export function zoneAt(face: Face, p: Place, shaft: number): Zone | undefined {
  if (face.zones.length === 0) return undefined;
  const r = Math.hypot(p.x, p.y) - shaft / 2;
  return face.zones.find((z) => r <= z.radius_m + 1e-7) ?? miss;
}

export const isPlaced = (i: Impact): i is Impact & { x_m: number; y_m: number } => i.x_m !== undefined && i.y_m !== undefined;

// zoneOf is what an impact scores: as called, else as plotted.
export function zoneOf(face: Face, i: Impact, shaft: number): Zone | undefined {
  if (i.ring) return i.ring === "M" ? miss : face.zones.find((z) => z.label === i.ring);
  return isPlaced(i) ? zoneAt(face, { x: i.x_m, y: i.y_m }, shaft) : undefined;
}

// toMicron rounds a place to the micrometre: more digits would only pretend.
export const toMicron = (v: number): number => Math.round(v * 1e6) / 1e6;
