import { uuidv7 } from "./uuid"; // crypto.randomUUID is missing over plain http
import { api, create, get, Problem, sentence } from "./http";
import { askToKeep } from "./storage";
import { adoptsWith, keep, kept, keptKeys, keptSafely, watchKept, type Old } from "./kept";

// The outbox keeps records in order until the notebook has them. A record's
// address holds its own id, so sending it twice is harmless: it is written
// down before it is sent, and crossed out after the answer. Nothing here needs
// the browser to wake a page that is closed: what waits goes when a page is
// open.
export interface Waiting { path: string; body: unknown; by?: string; at?: string }

// A record that the notebook refused, with the reason, kept until it is
// entered anew or thrown away by hand.
export interface Refused extends Waiting { why: string; at: string; program?: string }

const out = "out:", back = "refused:", gone = "sent:";
const remembered = 200; // records sent last, for lists that were read before
const patience = 20_000; // ms for one record: a phone on a weak link; after it the record is sent again

const list = <T>(prefix: string): T[] => keptKeys(prefix).map((k) => kept<T>(k)!);
export const waiting = (): Waiting[] => list<Waiting>(out);
export const refused = (): Refused[] => list<Refused>(back);

// notIn gives what a list that was asked for at that time cannot hold yet: what
// waits, and what was sent since. Without a time: everything sent lately.
export const notIn = (at?: string): Waiting[] => [...list<Waiting & { at: string }>(gone).filter((s) => at === undefined || s.at > at), ...waiting()];

// nextKey follows every key of its kind, whatever the clock says; two tabs
// that write in the same moment differ by the tail.
function nextKey(prefix: string): string {
  const last = Number(keptKeys(prefix).at(-1)?.slice(prefix.length, prefix.length + 10) ?? 0);
  return `${prefix}${String(last + 1).padStart(10, "0")}:${uuidv7().slice(-8)}`;
}

// forgetSent clears what is remembered of records that are sent: who logs out
// leaves nothing to look at.
export const forgetSent = (): void => keptKeys(gone).forEach((k) => keep(k, undefined));

// In a notebook of several people a record goes out only while its writer is
// logged in on this device, whoever uses it in between.
let writer = "", several: boolean | undefined, unsure = false;
const comings: (() => void)[] = [];
export function writesAs(person: string, accounts: boolean): void {
  const other = unsure || person !== writer || accounts !== several;
  writer = person;
  several = accounts;
  unsure = false;
  if (other) comings.forEach((c) => c());
  if (person) void flush();
  if (other && (person || !accounts)) senders.forEach((s) => s());
}

// holdSending keeps everything here until it is known again under whose login it
// would go; what is noted meanwhile is the last known writer's.
export function holdSending(): void {
  unsure = true;
  comings.forEach((c) => c());
}
export const sendingHeld = (): boolean => unsure;

// writerNow is who is logged in on this device, "" for nobody, and in a notebook
// of one person.
export const writerNow = (): string => writer;

// severalHere tells whether several people use the notebook, undefined until
// that is known.
export const severalHere = (): boolean | undefined => (unsure ? undefined : several);

// whenWriterChanges calls back when somebody else, or nobody, is logged in.
export const whenWriterChanges = (then: () => void): void => { comings.push(then); };

const watchers = new Set<(n: number) => void>();
// unsent is how many records the notebook does not have yet, recordings too.
export const unsent = (): number => keptKeys(out).length + apart;
const tell = (): void => watchers.forEach((w) => w(unsent()));
watchKept((keys) => { if (keys.length === 0 || keys.some((k) => k.startsWith(out) || k.startsWith(back))) tell(); });

export function watchOutbox(watch: (n: number) => void): () => void {
  watchers.add(watch);
  watch(unsent());
  return () => { watchers.delete(watch); };
}

// What waits apart from this list, since it is too large for it: recordings.
let apart = 0;
const senders: (() => void)[] = [];
export function setApart(n: number): void {
  if (n === apart) return;
  apart = n;
  tell();
}

// alsoSends has something else sent whenever the outbox is tried.
export const alsoSends = (send: () => void): void => { senders.push(send); send(); };

// add puts a record at the end, once.
function add(path: string, body: unknown, by = writer || undefined, at = new Date().toISOString()): string {
  const plain: unknown = JSON.parse(JSON.stringify(body)), same = keptKeys(out).find((k) => kept<Waiting>(k)!.path === path && JSON.stringify(kept<Waiting>(k)!.body) === JSON.stringify(plain));
  if (same) return same;
  const key = nextKey(out);
  keep(key, { path, body: plain, by, at } satisfies Waiting);
  return key;
}

// queue keeps a record for sending and returns at once: the page goes on while
// the outbox empties in order. A refusal is put aside with its reason.
export function queue(path: string, body: unknown): void {
  askOnce();
  add(path, body);
  void flush();
}

// askOnce has the browser promise to keep what is noted, the first time that
// something is: some browsers ask the person, who then knows what for.
let askedOnce = false;
function askOnce(): void {
  if (!askedOnce) void askToKeep();
  askedOnce = true;
}

const asked = new Map<string, Problem | undefined>(); // records a form waits for, and what became of them
const soon = 5000; // ms a form waits before it says that its record is kept

// record writes a record down and sends it. It resolves to "sent", or to
// "kept" when there is no answer; a refusal is thrown as a Problem, and the
// form that holds the record stays as it is. What was made under an earlier login
// names its writer: under another one it waits.
export async function record(path: string, body: unknown, by?: string): Promise<"sent" | "kept"> {
  askOnce();
  const key = add(path, body, by);
  asked.set(key, undefined);
  try {
    await Promise.race([flush(), new Promise((done) => setTimeout(done, soon))]);
    const problem = asked.get(key);
    if (problem) throw problem;
    return kept(key) === undefined ? "sent" : "kept";
  } finally {
    asked.delete(key);
  }
}

// withdraw takes a record back out of the outbox; false when it has gone out.
export function withdraw(path: string): boolean {
  const mine = keptKeys(out).filter((k) => kept<Waiting>(k)!.path === path && k !== going);
  for (const k of mine) keep(k, undefined);
  return mine.length > 0;
}

let running: Promise<void> | undefined;
let going = ""; // the record on its way

// flush sends what waits, oldest first; it stops at the first that gets no
// answer, or one that is not about it (answers.ts). A record that the notebook
// refuses stays out of the way of the rest. One tab at a time sends.
export function flush(): Promise<void> {
  running ??= alone(sendAll).finally(() => { running = undefined; });
  return running;
}

async function alone(work: () => Promise<void>): Promise<void> {
  if (!navigator.locks) return work();
  await navigator.locks.request("tautline-outbox", { ifAvailable: true }, async (lock) => { if (lock) await work(); });
}

const firstKey = (): string | undefined => (unsure ? undefined : keptKeys(out).find((k) => { const by = kept<Waiting>(k)!.by; return !by || by === writer; }));

let stuck: Problem | undefined; // what was answered to the first that waits, when it was no refusal of it

// stuckOn says why what waits does not go, though something answers.
export const stuckOn = (): Problem | undefined => (firstKey() === undefined ? undefined : stuck);

function sticks(p: Problem | undefined): void {
  stuck = p;
  tell();
}

// setAside moves the first that waits out of the way of the rest, by hand: the
// program fails at it each time.
export async function setAside(): Promise<void> {
  const key = firstKey();
  if (key === undefined || !stuck) return;
  await putAside(kept<Waiting>(key)!, stuck);
  keep(key, undefined);
  await flush();
}

async function sendAll(): Promise<void> {
  for (;;) {
    const key = firstKey();
    if (key === undefined) return;
    const first = kept<Waiting>(key)!;
    going = key;
    await keptSafely(); // on the disk before it is sent: what the notebook has, this device knows of
    if (kept(key) === undefined) continue; // taken back meanwhile
    try {
      const created = await create(first.path, first.body, AbortSignal.timeout(patience));
      if (created === undefined) return; // no word of the notebook's
      for (const u of unpacked) if (created && u.paths.includes(first.path)) u.fresh.add(first.path);
    } catch (e) {
      if (!(e instanceof Problem) || !e.final) return sticks(e instanceof Problem && e.status > 0 ? e : undefined);
      if (asked.has(key)) asked.set(key, e);
      else await putAside(first, e);
      keep(key, undefined);
      continue;
    } finally {
      going = "";
    }
    stuck = undefined;
    keep(key, undefined);
    keep(nextKey(gone), { ...first, at: new Date().toISOString() });
    for (const old of keptKeys(gone).slice(0, -remembered)) keep(old, undefined);
  }
}

// putAside keeps a refused record where nothing overwrites it.
async function putAside(w: Waiting, p: Problem): Promise<void> {
  const why = p.fields.length > 0 ? p.fields.map(sentence).join(" ") : p.message;
  keep(nextKey(back), { ...w, why, at: new Date().toISOString(), program: await programNow() } satisfies Refused);
}

const programNow = (): Promise<string | undefined> => get<{ version: string }>(`${api}/health`).then((h) => h.version, () => undefined);

export function dropRefused(at: number): void {
  const key = keptKeys(back)[at];
  if (key) keep(key, undefined);
}

// sendAgain puts what was refused back in the row.
export function sendAgain(which: (r: Refused) => boolean = () => true): void {
  for (const k of keptKeys(back)) {
    const { path, body, by, ...r } = kept<Refused>(k)!;
    if (!which({ path, body, by, ...r })) continue;
    add(path, body, by, r.at);
    keep(k, undefined);
  }
  void flush();
}

// A newer or older program may take what another one could not: what was
// refused is tried once more when the program has changed.
async function tryAfterChange(): Promise<void> {
  if (keptKeys(back).length === 0) return;
  const now = await programNow();
  if (now !== undefined) sendAgain((r) => r.program !== undefined && r.program !== now);
}

// Parcel is what waits on a device, as a file.
export interface Parcel { tautline: "not yet sent"; written: string; records: Waiting[] }

export const parcel = (): Parcel => ({
  tautline: "not yet sent", written: new Date().toISOString(),
  records: [...waiting(), ...refused()].map(({ path, body, by, at }) => ({ path, body, by, at })),
});

const address = /^\/api\/v1\/[a-z]+\/(?:[0-9a-f-]{36}\/[a-z]+\/)?[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}$/;

// Unpacked is what such a file brought in; fresh grows by what the notebook did
// not have before.
export interface Unpacked { paths: string[]; fresh: Set<string> }
const unpacked: Unpacked[] = []; // of this visit

// unpack takes the records of such a file into this device's outbox; what the
// notebook has already is not stored twice.
export function unpack(text: string): Unpacked {
  let read: unknown;
  try {
    read = JSON.parse(text);
  } catch {
    throw new Error("This is not a whole file of records not yet sent: it cannot be read.");
  }
  const records = Array.isArray(read) ? (read as Waiting[]) : (read as Partial<Parcel> | null)?.records;
  if (!Array.isArray(records)) throw new Error("This is not a file of records not yet sent. Such a file is saved on the page “Not yet sent” of the other device.");
  const wrong = records.findIndex((r) => typeof r?.path !== "string" || !address.test(r.path) || typeof r.body !== "object" || r.body === null);
  if (wrong >= 0) throw new Error(`Record ${wrong + 1} of the file is none that this page can send. Nothing was taken over.`);
  const taken: Unpacked = { paths: records.map((r) => r.path), fresh: new Set() };
  unpacked.push(taken);
  for (const r of records) add(r.path, r.body, r.by, r.at);
  void flush();
  return taken;
}

// adopted takes over the outbox of an older program.
adoptsWith((old: Old[], wasRefused: boolean) => {
  for (const { path, body, by, why, at } of old) {
    if (!wasRefused) add(path, body, by, at);
    else if (!refused().some((r) => r.path === path)) keep(nextKey(back), { path, body, by, why: why ?? "", at: at ?? new Date().toISOString() } satisfies Refused);
  }
});

// keepFlushing sends on opening, when the network or the page comes back, and
// every half minute while the page is in sight.
export function keepFlushing(): void {
  const send = () => { if (!document.hidden) { void flush(); senders.forEach((s) => s()); } };
  addEventListener("online", send);
  document.addEventListener("visibilitychange", send);
  setInterval(send, 30_000);
  send();
  void tryAfterChange();
}
