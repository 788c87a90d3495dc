import { api, put } from "../lib/http";
import { allRows } from "../lib/load";
import { retractAll } from "../lib/takeback";
import type { Far } from "../lib/undo";
import { idAt } from "../lib/uuid";
import type { EndView, Impact } from "./types";

// Keeping a table: end by end, with ids that follow from the table's own, so
// that going on after an interruption, or after a reload, stores none twice.

export interface ReadEnd { number: number; setup_text?: string; impacts: Impact[] }
// InTable is an end with its place in the table.
export interface InTable { n: number; end: ReadEnd }
export interface Shot { bow: string; setup: string; distance: string; face: string }

// sameness is what makes two ends the same arrows.
const sameness = (number: number | undefined, face: string | undefined, impacts: Impact[]): string =>
  JSON.stringify([number ?? 0, face || "blank", impacts.map((i) => [i.arrow ?? "", i.x_m ?? null, i.y_m ?? null, i.ring ?? "", i.bare ?? false])]);

// notYet drops the ends that this set-up holds already: a table brought in
// twice adds nothing.
export async function notYet(ends: ReadEnd[], shot: Shot): Promise<InTable[]> {
  const rows = await allRows<EndView>(`/ends?bow=${shot.bow}&setup=${shot.setup}`);
  const held = new Set(rows.map(({ end: e }) => sameness(e.number, e.face, e.impacts)));
  return ends.map((end, n) => ({ n, end })).filter(({ end }) => !held.has(sameness(end.number, shot.face, end.impacts)));
}

// keepEnds stores them one after the other and says how far it is.
export async function keepEnds(list: InTable[], first: string, shot: Shot, signal: AbortSignal, far: (n: number) => void): Promise<void> {
  for (const [k, { n, end }] of list.entries()) {
    if (signal.aborted) return;
    const at = end.impacts.find((i) => i.at)?.at;
    await put(`${api}/ends/${idAt(first, n)}`, { bow: shot.bow, setup: shot.setup, face: shot.face, number: end.number, impacts: end.impacts, ...(shot.distance.trim() && { distance: shot.distance.trim() }), ...(at && { at }) });
    far(k + 1);
  }
}

// takeBackEnds takes the ends at these places of the table back.
export const takeBackEnds = (places: number[], first: string, retractions: string, far: Far): Promise<void> =>
  retractAll(places.map((n) => idAt(first, n)), retractions, "the whole table taken back", far);
