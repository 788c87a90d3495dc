import { useEffect, useState } from "preact/hooks";
import { api, get, post, type Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { uuidv7 } from "../lib/uuid";

// A long calculation: how far it is, and a way to stop it. Leaving the page or
// asking something else stops it too.

export interface Long<T> { value?: T; of?: string; problem?: Problem; share: number | null; cancel: () => void; again: () => void; stopped: boolean }

interface Held<T> { key: string; value?: T; problem?: Problem; stopped?: boolean }

export function useLong<T>(path: string, body: object, key: string): Long<T> {
  const [held, setHeld] = useState<Held<T>>({ key: "" });
  const [last, setLast] = useState<{ value: T; of: string }>();
  const [share, setShare] = useState<number | null>(null);
  const [turn, setTurn] = useState(0);
  const [stop, setStop] = useState<AbortController>();
  useEffect(() => {
    const control = new AbortController(), work = uuidv7();
    setStop(control);
    setShare(0);
    const timer = setInterval(() => {
      get<{ running: boolean; share_ratio: number }>(`${api}/work/${work}`, control.signal).then((w) => { if (w.running) setShare(w.share_ratio); }, () => undefined);
    }, 400);
    post<T>(api + path, { ...body, work }, control.signal).then(
      (value) => { setHeld({ key, value }); setLast({ value, of: key }); },
      (e: unknown) => setHeld(control.signal.aborted ? { key, stopped: true } : { key, problem: asProblem(e) }),
    ).finally(() => { clearInterval(timer); if (!control.signal.aborted) setShare(null); });
    return () => { clearInterval(timer); control.abort(); };
  }, [key, turn]);
  const now = held.key === key ? held : undefined;
  return {
    value: last?.value, of: last?.of, problem: now?.problem, share: now ? null : share, stopped: now?.stopped ?? false,
    cancel: () => stop?.abort(), again: () => { setHeld({ key: "" }); setTurn((n) => n + 1); },
  };
}

// Running shows how far it is, with the button that stops it.
export function Running<T>({ of, what }: { of: Long<T>; what: string }) {
  if (of.stopped) return <p class="row" role="status"><span>Stopped; nothing was changed.</span><button type="button" onClick={of.again}>Go on</button></p>;
  if (of.share === null) return null;
  return (
    <div class="running">
      <p role="status">{what}</p>
      <progress max={1} value={of.share} aria-label={what} />
      <span class="num" aria-hidden="true">{Math.round(100 * of.share)} %</span>
      <button type="button" class="quiet" onClick={of.cancel}>Stop</button>
    </div>
  );
}
