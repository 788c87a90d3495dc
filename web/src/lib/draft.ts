import { useCallback, useEffect, useRef, useState } from "preact/hooks";
import { keep, kept, watchKept } from "./kept";

const prefix = "draft:";
export const draftKey = (key: string): string => prefix + key; // under which kept.ts holds it

export type Update<T> = (next: T | ((now: T) => T)) => void;

// useDraft is a form's state that survives a reload, a killed browser and a
// refused send. It is cleared only when the caller says that it is stored.
// A form that nobody touched leaves no draft behind.
export function useDraft<T>(key: string, initial: T): [T, Update<T>, () => void] {
  const [held, setHeld] = useState(() => ({ key, value: readDraft<T>(key) ?? initial }));
  const first = useRef(initial);
  let now = held;
  if (held.key !== key) {
    now = { key, value: readDraft<T>(key) ?? initial };
    first.current = initial;
    setHeld(now);
  }
  const latest = useRef(now);
  latest.current = now;
  const mine = useRef(false), gone = useRef(false);
  useEffect(() => () => { gone.current = true; }, []);

  // An answer may come after the form has gone, or holds another draft: then
  // what is kept counts, perhaps by the same form opened anew.
  const begun = first.current, here = () => !gone.current && latest.current.key === key;
  const update = useCallback<Update<T>>((next) => {
    const shown = here();
    const value = typeof next === "function" ? (next as (now: T) => T)(shown ? latest.current.value : readDraft<T>(key) ?? begun) : next;
    if (shown) latest.current = { key, value };
    mine.current = shown;
    keepDraft(key, value);
    mine.current = false;
    if (shown) setHeld(latest.current);
  }, [key]);

  const clear = useCallback(() => {
    dropDraft(key);
    if (!here()) return;
    latest.current = { key, value: first.current };
    setHeld(latest.current);
  }, [key]);

  // Another tab with the same form open, or an undo: what was kept last wins
  // in both, so that neither shows what is no longer kept.
  useEffect(() => watchKept((keys) => {
    if (mine.current || !keys.includes(prefix + key)) return;
    latest.current = { key, value: readDraft<T>(key) ?? first.current };
    setHeld(latest.current);
  }), [key]);

  return [now.value, update, clear];
}

// readDraft gives what is kept under a key, if anything. It is not to be
// changed in place.
export const readDraft = <T>(key: string): T | undefined => kept<T>(prefix + key);

// keepDraft keeps a form's state; without room the form still works, it only
// does not survive a reload.
export const keepDraft = (key: string, value: unknown): void => keep(prefix + key, value === undefined ? undefined : plain(value));

export const dropDraft = (key: string): void => keep(prefix + key, undefined);

// plain is what JSON holds of a value: no absent fields, nothing shared.
const plain = (value: unknown): unknown => JSON.parse(JSON.stringify(value));
