// What this device keeps: forms half filled, ends half plotted, and records
// that the notebook does not have yet. All of it stands in memory, where pages
// read it at once, and in the browser's database, written through to the disk
// at every change: a browser that is killed loses nothing that was shown as
// kept. (localStorage, which held it before, reaches the disk seconds later.)

const database = "tautline-kept";
const values = "values"; // by key; see draft.ts and outbox.ts for theirs
export const seenStore = "seen"; // answers of the notebook as last seen; see seen.ts

const mirror = new Map<string, unknown>();
const dirty = new Map<string, unknown>(); // not yet on the disk; undefined: to be deleted
type Watch = (keys: string[], elsewhere: boolean) => void;
const watchers = new Set<Watch>();
const channel = typeof BroadcastChannel === "undefined" ? undefined : new BroadcastChannel(database);

let base: Promise<IDBDatabase> | undefined;
let writing: Promise<void> | undefined;
let trouble: "" | "none" | "full" = ""; // why what is kept is in memory only

// keptTrouble says whether this browser keeps what pages give it: "" yes,
// "none" it has no database for pages, "full" it has no room left.
export const keptTrouble = (): "" | "none" | "full" => trouble;

export function openBase(): Promise<IDBDatabase> {
  base ??= new Promise<IDBDatabase>((done, fail) => {
    const ask = indexedDB.open(database, 1);
    ask.onupgradeneeded = () => {
      ask.result.createObjectStore(values);
      ask.result.createObjectStore(seenStore, { keyPath: "key" }).createIndex("at", "at");
    };
    ask.onsuccess = () => {
      ask.result.onversionchange = () => { ask.result.close(); base = undefined; }; // a newer program opens it in another tab
      ask.result.onclose = () => { base = undefined; };
      done(ask.result);
    };
    ask.onerror = () => fail(ask.error);
    ask.onblocked = () => fail(new Error("another tab holds an older version open"));
  }).catch((e: unknown) => { base = undefined; throw e; });
  return base;
}

// openKept reads what is kept; pages are drawn after it.
export async function openKept(): Promise<void> {
  const first = typeof indexedDB === "undefined" ? Promise.reject(new Error("no database")) : reread(null);
  try {
    await Promise.race([first, new Promise((_, fail) => setTimeout(() => fail(new Error("it takes too long")), 4000))]);
  } catch (e) {
    trouble = "none";
    console.warn("Tautline: this browser keeps nothing for pages.", e);
    first.then(late, () => undefined);
  }
  if (channel) channel.onmessage = (e: MessageEvent<string[]>) => void reread(e.data).then(() => tell(e.data, true), () => undefined);
  said("yes");
  adopt();
  addEventListener("storage", adopt); // a tab of an older program still writes there
}

// late: the database came after all, on a device that was busy. What was noted
// meanwhile goes into it.
function late(): void {
  setTrouble("");
  tell(keptKeys(""), true);
  start();
}

// reread takes over what stands in the database: everything, or what another
// tab has just changed.
async function reread(keys: string[] | null): Promise<void> {
  const store = (await openBase()).transaction(values).objectStore(values);
  if (keys === null) {
    const [names, all] = await Promise.all([answer(store.getAllKeys()), answer(store.getAll() as IDBRequest<unknown[]>)]);
    names.forEach((k, i) => { if (!dirty.has(String(k))) mirror.set(String(k), all[i]); });
    return;
  }
  const all = await Promise.all(keys.map((k) => answer(store.get(k) as IDBRequest<unknown>)));
  keys.forEach((k, i) => { if (!dirty.has(k)) { if (all[i] === undefined) mirror.delete(k); else mirror.set(k, all[i]); } });
}

export const answer = <T>(r: IDBRequest<T>): Promise<T> => new Promise((done, fail) => { r.onsuccess = () => done(r.result); r.onerror = () => fail(r.error); });

export const kept = <T>(key: string): T | undefined => mirror.get(key) as T | undefined;
export const keptKeys = (prefix: string): string[] => [...mirror.keys()].filter((k) => k.startsWith(prefix)).sort();

// keep changes what is kept under a key; undefined removes it. Changes of one
// moment reach the disk together or not at all.
export function keep(key: string, value: unknown): void {
  if (value === undefined) mirror.delete(key);
  else mirror.set(key, value);
  dirty.set(key, value);
  said("writing");
  tell([key], false);
  start();
}

const start = (): void => { writing ??= Promise.resolve().then(writeOut).finally(() => { writing = undefined; }); };

// keptSafely waits until everything is on the disk, and tells whether it is.
export async function keptSafely(): Promise<boolean> {
  if (dirty.size > 0) start();
  while (writing) await writing;
  return dirty.size === 0;
}

export function watchKept(watch: Watch): () => void {
  watchers.add(watch);
  return () => { watchers.delete(watch); };
}

const tell: Watch = (keys, elsewhere) => watchers.forEach((w) => w(keys, elsewhere));

async function writeOut(): Promise<void> {
  while (dirty.size > 0 && trouble !== "none") {
    const batch = new Map(dirty);
    dirty.clear();
    try {
      await commit(batch);
    } catch (e) {
      for (const [k, v] of batch) if (!dirty.has(k)) dirty.set(k, v); // tried again with the next change
      console.warn("Tautline: this browser has no room to keep it.", e);
      return setTrouble("full");
    }
    setTrouble("");
    if (dirty.size === 0) said("yes");
    channel?.postMessage([...batch.keys()]);
  }
}

// said lets whoever drives the page from outside know when all is on the disk.
const said = (word: "yes" | "writing"): void => { document.documentElement.dataset.kept = word; };

function setTrouble(next: typeof trouble): void {
  if (next === trouble) return;
  trouble = next;
  tell([], false);
}

async function commit(batch: Map<string, unknown>): Promise<void> {
  const db = await openBase();
  await new Promise<void>((done, fail) => {
    const t = db.transaction(values, "readwrite", { durability: "strict" }), store = t.objectStore(values);
    t.oncomplete = () => done();
    t.onerror = t.onabort = () => fail(t.error ?? new Error("the browser broke it off"));
    for (const [k, v] of batch) if (v === undefined) store.delete(k); else store.put(v, k);
  });
}

// Old is what an older program left in localStorage.
export interface Old { path: string; body: unknown; by?: string; why?: string; at?: string }
let adopting: (list: Old[], refused: boolean) => void = () => undefined;
export const adoptsWith = (take: typeof adopting): void => { adopting = take; };

// adopt moves what an older program kept in localStorage; it is removed there
// once it is safe here.
function adopt(): void {
  const gone: string[] = [];
  try {
    for (const key of Object.keys(localStorage)) {
      const text = localStorage.getItem(key) ?? "";
      if (key.startsWith("draft:")) { if (!mirror.has(key)) keep(key, JSON.parse(text)); }
      else if (key === "outbox" || key === "refused") adopting(JSON.parse(text) as Old[], key === "refused");
      else continue;
      gone.push(key);
    }
  } catch (e) {
    console.warn("Tautline: what an older program kept here cannot be read.", e);
  }
  if (gone.length > 0 && trouble === "") void keptSafely().then((safe) => { if (safe) gone.forEach((k) => localStorage.removeItem(k)); });
}
