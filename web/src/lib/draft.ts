import { useCallback, useEffect, useRef, useState } from "preact/hooks";

const prefix = "draft:";

export type Update<T> = (next: T | ((now: T) => T)) => void;

// useDraft is a form's state that survives a reload, a crash of the tab and a
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

  const update = useCallback<Update<T>>((next) => {
    const value = typeof next === "function" ? (next as (now: T) => T)(latest.current.value) : next;
    latest.current = { key, value };
    keepDraft(key, value);
    setHeld(latest.current);
  }, [key]);

  const clear = useCallback(() => {
    dropDraft(key);
    latest.current = { key, value: first.current };
    setHeld(latest.current);
  }, [key]);

  // Another tab with the same form open: the last one typed in wins in both,
  // so that neither shows what is no longer kept.
  useEffect(() => {
    const follow = (e: StorageEvent) => {
      if (e.key !== prefix + key) return;
      latest.current = { key, value: readDraft<T>(key) ?? first.current };
      setHeld(latest.current);
    };
    addEventListener("storage", follow);
    return () => removeEventListener("storage", follow);
  }, [key]);

  return [now.value, update, clear];
}

// readDraft gives what is kept under a key, if anything.
export function readDraft<T>(key: string): T | undefined {
  try {
    const text = localStorage.getItem(prefix + key);
    return text === null ? undefined : (JSON.parse(text) as T);
  } catch {
    return undefined; // private mode, or a draft of an older program
  }
}

// keepDraft keeps a form's state; without room the form still works, it only
// does not survive a reload.
export function keepDraft(key: string, value: unknown): void {
  try {
    localStorage.setItem(prefix + key, JSON.stringify(value));
  } catch {
    console.warn("Tautline: this browser keeps no drafts.");
  }
}

export function dropDraft(key: string): void {
  try {
    localStorage.removeItem(prefix + key);
  } catch {
    console.warn("Tautline: this browser keeps no drafts.");
  }
}
