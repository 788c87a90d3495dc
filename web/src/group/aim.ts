import { toFace, type Place, type View } from "./geometry";

// Aiming with a finger. The touch lands where it lands; from there the cross
// follows at a fraction of the finger's way, as the picture in the magnifier
// moves under it. So a finger that rolls as it lifts moves the cross by little,
// and a place can be hit to a millimetre on a face that is 3.5 mm a pixel.

// times is how much larger the magnifier shows the face, and how much slower
// the cross moves than a finger.
export const times = 4;

// Held is a pointer that is down: where it landed, where it is.
export interface Held { id: number; from: Place; now: Place; fine: number }

export const aimed = (v: View, h: Held): Place => {
  const at = toFace(v, h.from);
  return { x: at.x + ((h.now.x - h.from.x) * v.perPx) / h.fine, y: at.y - ((h.now.y - h.from.y) * v.perPx) / h.fine };
};

// slowness is how many times slower the cross moves than the pointer: a mouse
// is exact by itself.
export const slowness = (kind: string): number => (kind === "touch" ? times : 1);

// lensPlace puts the magnifier above the thumb, or beside it where there is no
// room above.
export function lensPlace(at: Place, lens: number, width: number): { left: number; top: number } {
  const clear = 56, edge = 8;
  const inside = (v: number, room: number) => Math.min(Math.max(v, edge), room - lens - edge);
  const top = at.y - clear - lens;
  if (top >= edge) return { left: inside(at.x - lens / 2, width), top };
  return { left: inside(at.x > width / 2 ? at.x - clear - lens : at.x + clear, width), top: Math.max(edge, at.y - lens / 2) };
}

// stepFor is how far an arrow key moves the cross: a tenth of a ring of the
// large face, or a millimetre with Shift.
export const stepFor = (shift: boolean): number => (shift ? 0.001 : 0.01);

const ways: Record<string, Place> = { ArrowLeft: { x: -1, y: 0 }, ArrowRight: { x: 1, y: 0 }, ArrowUp: { x: 0, y: 1 }, ArrowDown: { x: 0, y: -1 } };

// keyed moves a place by an arrow key; undefined for any other key.
export function keyed(key: string, shift: boolean, from: Place): Place | undefined {
  const way = ways[key], step = stepFor(shift);
  return way && { x: from.x + way.x * step, y: from.y + way.y * step };
}
