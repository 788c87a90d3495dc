import { writerNow } from "../lib/outbox";
import type { Tap } from "../trial/types";
import { waveHeader } from "../trial/wav";

// A take is a recording made in this page, or a file that was chosen on it. The
// sound of a recording is written down twice a second as it comes, so that a
// killed tab loses no more than the last second; both stay on this device until
// the notebook has them.

export interface Of { bow: string; trial?: string; stop?: number; setup?: string; taps?: Tap[] }
// Where the phone lay, and how far the bale was: asked once, because levels
// compare only inside one such arrangement.
export interface Where { phone: string; where: string; place?: string; bale: string }

export interface Take {
  id: string; // becomes the recording's
  by?: string; // whose it is, where several people use the notebook: it goes out only under that login (docs/decisions/0041)
  name: string; started: string; rate: number; frames: number; pieces: number; ended: boolean;
  clipped: number; treated: string[]; gaps: number; of: Of; where: Where; taps: Tap[];
  begun?: boolean; hash?: string; why?: string; cut?: boolean; // some of it is sent; all is; refused; the page went away while it ran
  chosen?: { media: string; bytes: number }; // a file: its pieces are its own bytes, not samples
}

const database = "tautline-takes";
let opened: Promise<IDBDatabase> | undefined;

function open(): Promise<IDBDatabase> {
  opened ??= new Promise<IDBDatabase>((done, fail) => {
    const ask = indexedDB.open(database, 1);
    ask.onupgradeneeded = () => {
      ask.result.createObjectStore("takes", { keyPath: "id" });
      ask.result.createObjectStore("pieces");
    };
    ask.onsuccess = () => done(ask.result);
    ask.onerror = () => fail(ask.error);
    ask.onblocked = () => fail(new Error("another tab holds an older version open"));
  }).catch((e: unknown) => { opened = undefined; throw e; });
  return opened;
}

// change runs one transaction and waits until it is on the disk.
async function change(work: (t: IDBTransaction) => void): Promise<void> {
  const db = await open();
  await new Promise<void>((done, fail) => {
    const t = db.transaction(["takes", "pieces"], "readwrite", { durability: "strict" });
    t.oncomplete = () => done();
    t.onerror = t.onabort = () => fail(t.error ?? new Error("this browser has no room for it"));
    work(t);
  });
}

async function ask<T>(work: (t: IDBTransaction) => IDBRequest<T>): Promise<T> {
  const db = await open();
  return new Promise<T>((done, fail) => {
    const r = work(db.transaction(["takes", "pieces"], "readonly"));
    r.onsuccess = () => done(r.result);
    r.onerror = () => fail(r.error);
  });
}

const watchers = new Set<() => void>();
const channel = typeof BroadcastChannel === "undefined" ? undefined : new BroadcastChannel(database);
if (channel) channel.onmessage = () => watchers.forEach((w) => w());

// watchTakes calls back when a take came, ended, or was sent, in any tab.
export function watchTakes(watch: () => void): () => void {
  watchers.add(watch);
  return () => { watchers.delete(watch); };
}

function tell(): void {
  watchers.forEach((w) => w());
  channel?.postMessage("");
}

// takes lists what this device holds, oldest first; without a database (a
// private window) there are none.
export async function takes(): Promise<Take[]> {
  if (typeof indexedDB === "undefined") return [];
  const list = await ask<Take[]>((t) => t.objectStore("takes").getAll());
  return list.sort((a, b) => a.started.localeCompare(b.started));
}

export async function keepTake(take: Take): Promise<void> {
  await change((t) => t.objectStore("takes").put(take));
  tell();
}

// noteTake writes more down of a take, unless it was thrown away.
export async function noteTake(id: string, more: Partial<Take>): Promise<void> {
  await change((t) => {
    const takes = t.objectStore("takes"), held: IDBRequest<Take | undefined> = takes.get(id);
    held.onsuccess = () => { if (held.result) takes.put({ ...held.result, ...more }); };
  });
  tell();
}

// addPiece writes the next piece of sound together with the take that counts
// it: never one without the other.
export function addPiece(take: Take, pcm: ArrayBuffer): Promise<void> {
  return change((t) => {
    t.objectStore("pieces").put(pcm, [take.id, take.pieces - 1]);
    t.objectStore("takes").put(take);
  });
}

const pieceOfFile = 4 << 20; // bytes: what a phone holds in memory at once

// keepFile writes a chosen file down, piece by piece, and gives the take that it
// became. A tab that is killed meanwhile leaves nothing: the file is still
// where it was chosen.
export async function keepFile(id: string, file: Blob, name: string, of: Of, where: Where): Promise<void> {
  const take: Take = {
    id, by: writerNow() || undefined, name, started: new Date().toISOString(), rate: 0, frames: 0, pieces: 0, ended: false, clipped: 0, treated: [], gaps: 0, of, where, taps: of.taps ?? [],
    chosen: { media: file.type, bytes: file.size },
  };
  const store = async () => {
    for (let at = 0; at < file.size; at += pieceOfFile) {
      const bytes = await file.slice(at, at + pieceOfFile).arrayBuffer();
      take.pieces++;
      await addPiece(take, bytes);
    }
    await keepTake({ ...take, ended: true });
  };
  try {
    if (navigator.locks) await navigator.locks.request(lockOf(id), store);
    else await store();
  } catch (e) {
    await dropTake(id).catch(() => undefined);
    throw e;
  }
}

export async function dropTake(id: string): Promise<void> {
  await change((t) => {
    t.objectStore("takes").delete(id);
    t.objectStore("pieces").delete(IDBKeyRange.bound([id], [id, []]));
  });
  tell();
}

// soundOf puts the pieces together: as a WAV file, or as the file they are of.
export async function soundOf(take: Take): Promise<File> {
  const parts: Blob[] = [];
  let bytes = 0;
  for (let n = 0; n < take.pieces; n++) {
    const pcm = await ask<ArrayBuffer | undefined>((t) => t.objectStore("pieces").get([take.id, n]));
    if (!pcm) continue;
    parts.push(new Blob([pcm])); // the browser may put blobs on the disk; buffers it may not
    bytes += pcm.byteLength;
  }
  if (take.chosen) return new File(parts, take.name, { type: take.chosen.media });
  return new File([waveHeader(take.rate, bytes / 2), ...parts], take.name, { type: "audio/wav" });
}

export const lockOf = (id: string) => `tautline-take-${id}`;

// endLost ends the takes whose page went away while they ran: what came until
// then is whole, but for a file, which is dropped. A page that still records holds the take's lock.
export async function endLost(): Promise<void> {
  if (typeof indexedDB === "undefined" || !navigator.locks) return;
  for (const take of await takes()) {
    if (take.ended) continue;
    await navigator.locks.request(lockOf(take.id), { ifAvailable: true }, async (lock) => {
      if (!lock) return;
      if (take.pieces === 0 || take.chosen) await dropTake(take.id);
      else await keepTake({ ...take, ended: true, cut: true });
    });
  }
}
