import { useEffect, useState } from "preact/hooks";
import { api, get, Problem } from "./http";
import { showsOld } from "./link";
import { keepSeen, seen } from "./seen";
import type { Rows } from "./types";

// Loaded is what a page asked for: nothing yet, an answer, or what went wrong. An
// answer stays on the page while it is asked for again. Out of reach it is what
// this device saw last, and seen says when that was; at is when the value was
// asked for, in either case. Under the key null nothing is asked for.
export interface Loaded<T> { key?: string | null; value?: T; problem?: Problem; seen?: string; at?: string; again: () => void }

export function asProblem(e: unknown): Problem {
  return e instanceof Problem ? e : new Problem(-1, "Something went wrong on this page", String(e), "Load the page anew.", []);
}

interface State<T> { key: string | null; value?: T; problem?: Problem; seen?: string; at?: string }

const slow = 1500; // ms without an answer after which what was seen last is shown

// useLoaded asks when the key changes, when the window comes back into view
// and, after no answer, every five seconds while it is in sight. What it gets
// is kept on this device under the name, if there is one.
export function useLoaded<T>(key: string | null, ask: (signal: AbortSignal) => Promise<T>, name?: string): Loaded<T> {
  const [state, setState] = useState<State<T>>({ key });
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    if (key === null) return;
    const stop = new AbortController();
    let timer = 0;
    const old = async (problem?: Problem) => {
      const last = name === undefined ? undefined : await seen<T>(name);
      if (stop.signal.aborted) return;
      setState((now) => (now.key === key && (now.value !== undefined || !last) ? { ...now, problem: problem ?? now.problem } : { key, problem, value: last?.value, seen: last?.at, at: last?.at }));
    };
    const late = name === undefined ? 0 : setTimeout(() => void old(), slow);
    const at = new Date().toISOString();
    ask(stop.signal).then((value) => {
      clearTimeout(late);
      setState({ key, value, at });
      if (name !== undefined) keepSeen(name, value, at);
    }, (e: unknown) => {
      clearTimeout(late);
      if (stop.signal.aborted) return;
      const problem = asProblem(e);
      if (problem.offline) {
        void old(problem);
        timer = setTimeout(() => { if (!document.hidden) setTurn((n) => n + 1); }, 5000);
      } else setState((now) => (now.key === key ? { ...now, problem } : { key, problem }));
    });
    return () => { stop.abort(); clearTimeout(timer); clearTimeout(late); };
  }, [key, turn]);
  useEffect(() => {
    const look = () => { if (!document.hidden) setTurn((n) => n + 1); };
    document.addEventListener("visibilitychange", look);
    return () => document.removeEventListener("visibilitychange", look);
  }, []);
  const fresh = state.key === key ? state : { key };
  useEffect(() => (fresh.seen === undefined ? undefined : showsOld(fresh.seen)), [fresh.seen]);
  return { ...fresh, again: () => setTurn((n) => n + 1) };
}

// judged are answers that must not be taken for today's.
const judged = /verdict|health/;

// useGet is useLoaded for one address below the API, kept as last seen; null
// asks for nothing.
export function useGet<T>(path: string | null): Loaded<T> {
  return useLoaded<T>(path, (signal) => get<T>(api + path, signal), path === null || judged.test(path) ? undefined : path);
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
