import { standing } from "./send";
import type { StopReading, TrialView } from "./types";

// The visits to a stop. A brace height read there after another stop was shot
// begins a new one, as the notebook counts them; a correction begins none.

// headOf is the reading at the head of a chain of corrections: it says when the
// thing was read.
function headOf(list: StopReading[], r: StopReading): StopReading {
  for (let left = list.length; left > 0; left--) {
    const before = list.find((o) => o.reading.id === r.reading.corrects);
    if (!before) break;
    r = before;
  }
  return r;
}

// readAt gives when the brace heights of a stop were read, in milliseconds.
const readAt = (list: StopReading[]): number[] => standing(list, "brace_height").map((r) => Date.parse(headOf(list, r).reading.at));

// stillThere tells that the bow has not been made another since it came to a stop
// for the first time: what is shot now counts with that visit.
export function stillThere(view: TrialView, stop: number): boolean {
  const here = readAt(view.stops[stop]!.readings), last = Math.max(-Infinity, ...here), elsewhere = view.stops.flatMap((s, i) => (i === stop ? [] : readAt(s.readings)));
  const since = Math.max(-Infinity, ...elsewhere.filter((at) => at < last));
  return here.length > 0 && elsewhere.every((at) => at < last) && here.every((at) => at > since);
}

// thisVisit are the standing readings of the last visit to a stop; where one
// goes there again, only what was noted since another stop was shot.
export function thisVisit(view: TrialView, stop: number, again: boolean): StopReading[] {
  const here = view.stops[stop]!.readings, elsewhere = view.stops.flatMap((s, i) => (i === stop ? [] : readAt(s.readings)));
  const last = again ? Infinity : Math.max(-Infinity, ...readAt(here));
  const since = Math.max(-Infinity, ...elsewhere.filter((at) => at < last));
  return standing(here).filter((r) => !(Date.parse(headOf(here, r).reading.at) <= since));
}
