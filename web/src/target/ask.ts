import { useEffect, useRef, useState } from "preact/hooks";
import { api, post, type Problem } from "../lib/http";
import { asProblem, useSettled } from "../lib/load";
import type { Query } from "../lib/query";
import type { TargetView } from "./types";

// Two questions about the same change: a quick look, sent while a slider
// moves, and the exact run with its doubt, sent once it rests. Of quick looks
// one is under way at a time and only the last one asked is drawn, so that the
// picture follows the thumb however slow the link is.

export interface Asked { setup: string; moves: Query; distances: string[] }
export interface Answers { view?: TargetView; of?: string; problem?: Problem; busy: boolean }

// usual distances, which the page always asks for.
export const usual = ["18 m", "30 m", "50 m", "70 m"];

const rest = 350; // ms without a change before the exact run

export function useTarget(asked: Asked, units: string): Answers & { again: () => void } {
  const key = JSON.stringify([asked, units]);
  const quick = useQuick(asked, key);
  const settled = useSettled(key, rest);
  const [exact, setExact] = useState<{ key: string; view?: TargetView; problem?: Problem }>({ key: "" });
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    if (settled !== key) return; // superseded: the exact run of the old change is stopped
    const stop = new AbortController();
    post<TargetView>(`${api}/target`, body(asked), stop.signal).then(
      (view) => setExact({ key, view }),
      (e: unknown) => { if (!stop.signal.aborted) setExact((now) => ({ ...now, key, problem: asProblem(e) })); },
    );
    return () => stop.abort();
  }, [settled, key, turn]);
  const again = () => setTurn((n) => n + 1);
  if (exact.key === key) return { view: exact.problem ? quick.view ?? exact.view : exact.view, problem: exact.problem, busy: false, again };
  return { view: quick.view ?? exact.view, problem: quick.key === key ? quick.problem : undefined, busy: true, again };
}

const body = (a: Asked) => ({ setup: a.setup, moves: a.moves, distances: a.distances });

interface Quick { key: string; view?: TargetView; problem?: Problem }

function useQuick(asked: Asked, key: string): Quick {
  const [held, setHeld] = useState<Quick>({ key: "" });
  const wanted = useRef({ asked, key }), running = useRef(false), seen = useRef(false), gone = useRef(false);
  wanted.current = { asked, key };
  useEffect(() => () => { gone.current = true; }, []);
  useEffect(() => {
    performance.mark("change");
    if (!running.current) void run();
  }, [key]);
  const run = async () => {
    running.current = true;
    for (let done = ""; !gone.current && done !== wanted.current.key;) {
      const { asked: a, key: k } = wanted.current;
      const next = await look(a, k, seen.current);
      done = k;
      if (next.view) seen.current = true;
      if (!gone.current) setHeld((now) => ({ view: now.view, ...next }));
    }
    running.current = false;
  };
  return held;
}

// look asks for a quick look. Where the very first is refused for what was
// typed, the page still needs its fields: it is asked without what is at fault.
async function look(a: Asked, key: string, seen: boolean): Promise<Quick> {
  try {
    return { key, view: await post<TargetView>(`${api}/target/quick`, body(a)) };
  } catch (e) {
    const problem = asProblem(e);
    const wrong = problem.fields.map((f) => f.field.replace("/moves/", "")).filter((name) => name in a.moves);
    const far = problem.fields.some((f) => f.field.startsWith("/distances"));
    if (seen || (wrong.length === 0 && !far)) return { key, problem };
    const moves = Object.fromEntries(Object.entries(a.moves).filter(([name]) => !wrong.includes(name)));
    const { view } = await look({ ...a, moves, distances: far ? usual : a.distances }, key, true);
    return { key, problem, view };
  }
}
