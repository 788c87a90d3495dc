import { useEffect, useState } from "preact/hooks";
import { keepDraft, readDraft } from "./draft";
import { api, get, Problem } from "./http";
import type { Rows } from "./types";

// Loaded is what a page asked for: nothing yet, an answer, or what went wrong.
// An answer stays on the page while it is asked for again.
export interface Loaded<T> { value?: T; problem?: Problem; again: () => void }

export function asProblem(e: unknown): Problem {
  return e instanceof Problem ? e : new Problem(-1, "Something went wrong on this page", String(e), "Load the page anew.", []);
}

// useLoaded asks when the key changes, when the window comes back into view
// and, after no answer, every five seconds.
export function useLoaded<T>(key: string | null, ask: (signal: AbortSignal) => Promise<T>): Loaded<T> {
  const [state, setState] = useState<{ key: string | null; value?: T; problem?: Problem }>({ key });
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    if (key === null) return;
    const stop = new AbortController();
    let timer = 0;
    ask(stop.signal).then((value) => setState({ key, value }), (e: unknown) => {
      if (stop.signal.aborted) return;
      const problem = asProblem(e);
      setState((now) => (now.key === key ? { ...now, problem } : { key, problem }));
      if (problem.offline) timer = setTimeout(() => setTurn((n) => n + 1), 5000);
    });
    return () => { stop.abort(); clearTimeout(timer); };
  }, [key, turn]);
  useEffect(() => {
    const seen = () => { if (!document.hidden) setTurn((n) => n + 1); };
    document.addEventListener("visibilitychange", seen);
    return () => document.removeEventListener("visibilitychange", seen);
  }, []);
  const fresh = state.key === key ? state : { key };
  return { ...fresh, again: () => setTurn((n) => n + 1) };
}

// useGet is useLoaded for one address below the API; null asks for nothing.
export function useGet<T>(path: string | null): Loaded<T> {
  return useLoaded<T>(path, (signal) => get<T>(api + path, signal));
}

// useLast keeps the answer as last seen on this device, one of a kind: a
// reload at the range, out of the notebook's reach, still shows it. The page
// says that it is the old view; verdicts are never kept.
export function useLast<T>(kind: string, id: string, of: Loaded<T>): Loaded<T> {
  const key = `${kind}:last`;
  useEffect(() => { if (of.value !== undefined) keepDraft(key, { id, view: of.value }); }, [of.value]);
  if (of.value !== undefined || !of.problem?.offline) return of;
  const last = readDraft<{ id: string; view: T }>(key);
  return last?.id === id ? { ...of, value: last.view } : of;
}

// allRows follows a list through its pages.
export async function allRows<T>(path: string, signal?: AbortSignal): Promise<T[]> {
  const out: T[] = [];
  let after = "";
  for (;;) {
    const joint = path.includes("?") ? "&" : "?";
    const page = await get<Rows<T>>(`${api}${path}${joint}limit=500${after && `&after=${encodeURIComponent(after)}`}`, signal);
    out.push(...page.rows);
    if (!page.next) return out;
    after = page.next;
  }
}

// useSettled gives a value once it has not changed for a while.
export function useSettled<T>(value: T, ms: number): T {
  const [settled, setSettled] = useState(value);
  useEffect(() => {
    const timer = setTimeout(() => setSettled(value), ms);
    return () => clearTimeout(timer);
  }, [value, ms]);
  return settled;
}
