import { useEffect, useState } from "preact/hooks";

const prefix = "draft:";

// useDraft is a form's state that survives a reload, a crash of the tab and a
// refused send. It is cleared only when the caller says that it is stored.
export function useDraft<T>(key: string, initial: T): [T, (next: T) => void, () => void] {
  const [value, setValue] = useState<T>(() => read(key) ?? initial);
  useEffect(() => write(key, value), [key, value]);
  return [value, setValue, () => { remove(key); setValue(initial); }];
}

function read<T>(key: string): T | undefined {
  try {
    const text = localStorage.getItem(prefix + key);
    return text === null ? undefined : (JSON.parse(text) as T);
  } catch {
    return undefined; // private mode, or a draft of an older program
  }
}

function write(key: string, value: unknown): void {
  try {
    localStorage.setItem(prefix + key, JSON.stringify(value));
  } catch {
    // no room: the form still works, it only does not survive a reload
  }
}

function remove(key: string): void {
  try {
    localStorage.removeItem(prefix + key);
  } catch {
    // nothing was stored
  }
}
