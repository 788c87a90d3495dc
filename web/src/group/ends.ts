import { useEffect, useState } from "preact/hooks";
import { api } from "../lib/http";
import { notIn, refused, waiting, watchOutbox } from "../lib/outbox";
import { allRows, useLoaded, type Loaded } from "../lib/load";
import { replaced } from "./replaced";
import { useTaken } from "./retract";
import type { End, EndView } from "./types";

// Shown is an end as a list shows it; unsent ones are on this device only.
export interface ShownEnd { end: End; unsent?: boolean }

// useEnds gives the ends that stand: those of the notebook, or as last seen
// out of its reach, with what this device has not sent, or only since; corrected ones and
// those taken back left out. In the order they came to the notebook, a correction in the place of what it corrects:
// clocks are put back, and phones travel.
export function useEnds(query: string, mine: (e: End) => boolean): Loaded<ShownEnd[]> & { ready: boolean } {
  const sent = useOutbox();
  const loaded = useLoaded<EndView[]>(query, (signal) => allRows<EndView>(`/ends?${query}`, signal), `/ends?${query}`);
  useEffect(() => { if (sent.turn > 0) loaded.again(); }, [sent.count]);
  const taken = useTaken();
  return { ...loaded, ready: loaded.value !== undefined || loaded.problem !== undefined, value: standing(loaded.value ?? [], mine, taken, loaded.at) };
}

// useOutbox follows how many records wait.
function useOutbox(): { count: number; turn: number } {
  const [state, set] = useState({ count: waiting().length, turn: 0 });
  useEffect(() => watchOutbox((count) => set((now) => (now.count === count ? now : { count, turn: now.turn + 1 }))), []);
  return state;
}

function standing(rows: EndView[], mine: (e: End) => boolean, taken: Set<string>, at?: string): ShownEnd[] {
  const unsent = new Set(waiting().map((w) => w.path));
  const known = new Map<string, ShownEnd>(rows.map((r) => [r.end.id, { end: r.end }]));
  for (const w of notIn(at ?? "")) {
    const id = w.path.split("/").pop()!, body = w.body as Omit<End, "id">;
    if (w.path.startsWith(`${api}/ends/`) && !known.has(id) && mine({ ...body, id })) known.set(id, { end: { ...body, id }, unsent: unsent.has(w.path) });
  }
  const gone = replaced([...known.values()].map((s) => s.end), taken);
  for (const r of rows) if (r.corrected_by && !taken.has(r.corrected_by)) gone.add(r.end.id); // through one taken back, which is not in the list
  const place = new Map<string, number>();
  for (const { end } of known.values()) {
    place.set(end.id, place.get(end.corrects ?? "") ?? place.size);
  }
  return [...known.values()].filter((s) => !gone.has(s.end.id) && !taken.has(s.end.id)).sort((a, b) => place.get(a.end.id)! - place.get(b.end.id)!);
}

// refusedEnds are ends that the notebook could not take, with the reason.
export const refusedEnds = (mine: (e: End) => boolean) =>
  refused().flatMap((r, at) => {
    const end = { ...(r.body as Omit<End, "id">), id: r.path.split("/").pop()! };
    return r.path.startsWith(`${api}/ends/`) && mine(end) ? [{ end, why: r.why, at }] : [];
  });

// nextNumber follows the highest number of a list of ends.
export const nextNumber = (list: ShownEnd[]): number => 1 + Math.max(0, ...list.map((s) => s.end.number ?? 0));
