import { useEffect, useState } from "preact/hooks";
import { api, get, Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import type { Rows } from "../lib/types";
import { isPlaced } from "./geometry";
import { replaced } from "./replaced";
import type { EndView, Group, Impact } from "./types";

export interface Impacts { list: Impact[]; done: boolean; problem?: Problem }

// useImpacts loads every place of a group, page by page, and shows what has
// come so far.
export function useImpacts(bow: string, g: Group | undefined): Impacts {
  const [state, set] = useState<Impacts>({ list: [], done: false });
  const key = g && `${g.setup}|${g.distance_m}|${g.kind}|${g.n_arrows}`;
  useEffect(() => {
    if (!g) return;
    const stop = new AbortController();
    set({ list: [], done: false });
    void load(`/ends?bow=${bow}&setup=${g.setup ?? ""}&limit=500`, g, stop.signal, set);
    return () => stop.abort();
  }, [key]);
  return state;
}

async function load(path: string, g: Group, signal: AbortSignal, show: (s: Impacts) => void): Promise<void> {
  const rows: EndView[] = [];
  try {
    for (let after = ""; ;) {
      const page = await get<Rows<EndView>>(`${api}${path}${after && `&after=${encodeURIComponent(after)}`}`, signal);
      rows.push(...page.rows);
      const done = !page.next;
      show({ list: placesOf(rows, g), done });
      if (done) return;
      after = page.next!;
    }
  } catch (e) {
    if (!signal.aborted) show({ list: placesOf(rows, g), done: false, problem: asProblem(e) });
  }
}

function placesOf(rows: EndView[], g: Group): Impact[] {
  const gone = replaced(rows.map((r) => r.end));
  return rows.filter((r) => !r.corrected_by && !gone.has(r.end.id) && sameDistance(r, g)).flatMap((r) => r.end.impacts.filter((i) => isPlaced(i) && (i.bare ?? false) === (g.kind === "bare")));
}

// sameDistance compares as the notebook sorts groups: to the millimetre.
const sameDistance = (r: EndView, g: Group): boolean => Math.round(1000 * (r.distance_m ?? 0)) === Math.round(1000 * (g.distance_m ?? 0));
