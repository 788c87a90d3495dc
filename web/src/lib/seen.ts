import { answer, openBase, seenStore } from "./kept";

// Answers of the notebook as this device last saw them, each with when that
// was: out of reach they are shown, and said to be old. Verdicts, fits and
// advice are never among them: they would look new.

export interface Seen<T> { value: T; at: string }
interface Row { key: string; at: string; value: unknown }

const most = 2500; // answers, those of a club's bows among them; the oldest make room

// Who looks: another person on the same device sees nothing of the first one.
let whose = "";
export function seesAs(person: string): void { whose = person; }

const keyOf = (name: string): string => `${whose} ${name}`;

// keepSeen notes an answer; a device without room for it just shows nothing
// later.
export function keepSeen(name: string, value: unknown, at = new Date().toISOString()): void {
  const row: Row = { key: keyOf(name), at, value };
  void openBase().then(async (db) => {
    const store = db.transaction(seenStore, "readwrite").objectStore(seenStore);
    store.put(row);
    const over = (await answer(store.count())) - most;
    if (over > 0) for (const key of await answer(store.index("at").getAllKeys(null, over))) store.delete(key);
  }).catch(() => undefined);
}

export async function seen<T>(name: string): Promise<Seen<T> | undefined> {
  try {
    const store = (await openBase()).transaction(seenStore).objectStore(seenStore);
    return (await answer(store.get(keyOf(name)))) as Seen<T> | undefined;
  } catch {
    return undefined;
  }
}

// seenNames are the names of all answers that this person has here.
export async function seenNames(): Promise<Set<string>> {
  try {
    const store = (await openBase()).transaction(seenStore).objectStore(seenStore);
    const keys = await answer(store.getAllKeys(IDBKeyRange.bound(keyOf(""), keyOf("\uffff"))));
    return new Set(keys.map((k) => String(k).slice(keyOf("").length)));
  } catch {
    return new Set();
  }
}

// forgetSeen clears them all: who logs out leaves nothing to look at.
export function forgetSeen(): void {
  void openBase().then((db) => { db.transaction(seenStore, "readwrite").objectStore(seenStore).clear(); }).catch(() => undefined);
}
