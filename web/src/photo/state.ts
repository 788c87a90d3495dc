import type { Place } from "../group/geometry";
import type { Mat } from "./matrix";
import type { OnRing } from "./refine";

// What is kept on the device of an end's photo, beside the picture itself:
// every tap, so that a reload loses none.

export type Step = "middle" | "rings" | "hand" | "upright" | "done";

export interface Photo {
  end: string; // the end it belongs to; "" for none
  hidden: boolean; // plotted without it for now
  picture: string; // the picture kept on the device; "" before one is chosen
  step: Step;
  face: string; // the face the rings were found for
  middle?: Place;
  points: OnRing[]; hand: [number, number]; now: 0 | 1; // marked by hand: on which rings (m), and the one the next tap is on
  found?: { map: Mat; residual: number; used: number; left: number; hand: boolean };
  map?: Mat; // picture to face, upright
}

export const noPhoto: Photo = { end: "", hidden: false, picture: "", step: "middle", face: "", points: [], hand: [0, 0], now: 0 };
