import { along, lacks, sessionsOf, tell, thrifty } from "./along";
import { roomTold } from "./dangers";
import { allRows } from "./load";
import { api, get, Problem } from "./http";
import { watchLink } from "./link";
import { keepSeen, seen, seenNames } from "./seen";
import type { BenchView, BowView } from "./types";

// takeAlong keeps on this device what the range needs of every bow on the
// bench, opened before or not: whoever looked at the bench at home has the
// bows, their set-ups and the open trials with them where there is no network.
// Bows with an open trial come first, then those last used. Nothing is fetched
// while the page is out of sight or the person saves data, a bow that has not
// changed since is not fetched again, and what was interrupted goes on when the
// notebook answers again.

const mostBows = 400;
const mostBytes = 40e6; // of all answers together
const leastRoom = 20e6; // bytes that stay free for what is noted
const pace = 125; // ms between two requests: under half of what one person may ask
const busy = 5000; // ms to stay away when the notebook says it is too fast
const day = 24 * 3600_000; // ms after which a bow is fetched again all the same
const trialAge = 10 * 60_000; // ms, of one with an open trial: its arrows change nothing on the bench
const takenName = "/along"; // what each bow was when it was taken

// Taken is what a bow was like and when it came.
interface Taken { print: string; at: number; bytes: number }

let wanted: BenchView | undefined;

const wait = (ms: number): Promise<void> => new Promise((done) => setTimeout(done, ms));

// insight waits until the page is looked at.
async function insight(): Promise<void> {
  while (document.hidden) await new Promise<void>((done) => document.addEventListener("visibilitychange", () => done(), { once: true }));
}

export async function takeAlong(bench: BenchView): Promise<void> {
  wanted = bench;
  if (along.running || thrifty()) return;
  tell({ running: true });
  try {
    while (wanted) {
      const now: BenchView = wanted;
      await takeAll(now.bows);
      if (wanted === now) wanted = undefined;
    }
  } catch (e) {
    if (!(e instanceof Problem) || !e.offline) wanted = undefined; // else it goes on once the notebook answers
  } finally {
    tell({ running: false, tried: along.tried || !wanted });
  }
}

watchLink(() => { if (wanted && !along.running) void takeAlong(wanted); });

async function takeAll(bows: BowView[]): Promise<void> {
  const taken = (await seen<Record<string, Taken>>(takenName))?.value ?? {};
  for (const path of ["/faces", "/round"]) await one(path);
  const names = await seenNames();
  let bytes = 0;
  for (const v of rank(bows).slice(0, mostBows)) {
    const held = taken[v.bow.id], print = printOf(v);
    const fresh = held?.print === print && Date.now() - held.at < day && lacks(v, names).length === 0;
    if (!fresh || (v.open_trial && Date.now() - held.at > trialAge)) {
      if (bytes > mostBytes || (await room()) < leastRoom) return;
      taken[v.bow.id] = { print, at: Date.now(), bytes: await takeBow(v) };
      keepSeen(takenName, taken);
      tell({});
    }
    bytes += taken[v.bow.id]!.bytes;
  }
}

const room = async (): Promise<number> => roomTold(await navigator.storage?.estimate?.().catch(() => undefined)) ?? Infinity;

// takeBow fetches what the pages of the range ask for, and gives its size.
async function takeBow(v: BowView): Promise<number> {
  const id = v.bow.id;
  let bytes = put(`/bows/${id}`, v); // the bench has the whole of it
  if (!v.setup) return bytes;
  bytes += (await one(`/bows/${id}/setups`)).bytes + (await one(sessionsOf(id))).bytes;
  if (!v.open_trial) return bytes;
  const trial = await one<{ trial: { setup: string } }>(`/trials/${v.open_trial.id}`);
  bytes += trial.bytes + (await one(`/setups/${trial.value.trial.setup}`)).bytes;
  const ends = `/ends?trial=${v.open_trial.id}`;
  return bytes + put(ends, await asked(() => allRows(ends)));
}

function put(name: string, value: unknown): number {
  keepSeen(name, value);
  return JSON.stringify(value).length;
}

async function one<T = unknown>(path: string): Promise<{ value: T; bytes: number }> {
  const value = await asked(() => get<T>(api + path));
  return { value, bytes: put(path, value) };
}

// asked asks politely: never in a hurry, and later where the notebook says so.
async function asked<T>(ask: () => Promise<T>): Promise<T> {
  for (let tries = 0; ; tries++) {
    await insight();
    await wait(pace);
    try {
      return await ask();
    } catch (e) {
      if (!(e instanceof Problem) || e.status !== 429 || tries >= 5) throw e;
      await wait(busy);
    }
  }
}

// rank puts open trials first, then what was last used; bows put away stay.
export function rank(bows: BowView[]): BowView[] {
  const used = (v: BowView) => [v.open_trial?.at, v.last_session?.at, v.last_reading_at, v.setup?.setup.at, v.bow.at].filter(Boolean).sort().at(-1) ?? "";
  return bows.filter((v) => !v.bow.archived).sort((a, b) => Number(!a.open_trial) - Number(!b.open_trial) || used(b).localeCompare(used(a)));
}

// printOf tells a bow from what it was before (FNV-1a, 32 bits, and the length).
function printOf(v: BowView): string {
  const text = JSON.stringify(v);
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) h = Math.imul(h ^ text.charCodeAt(i), 0x01000193);
  return `${text.length} ${h >>> 0}`;
}
