import { useEffect, useState } from "preact/hooks";
import { shownSpan, type Place } from "../group/geometry";
import type { Ground } from "../group/paint";
import type { Face } from "../group/types";
import { mapped, PhotoProblem } from "./circles";
import { heicPicture, isHeic } from "./heic";
import { inverse, type Mat } from "./matrix";
import type { Pixels } from "./rings";

// The picture on this device: kept in the browser's database, read the right
// way up, and drawn anew as seen from straight ahead.

const database = "tautline-photos", store = "pictures";
const most = 2400; // the longest side that is worked on, pixels

function asked<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error ?? new Error("the browser's database failed"));
  });
}

async function opened(): Promise<IDBDatabase> {
  const ask = indexedDB.open(database, 1);
  ask.onupgradeneeded = () => { ask.result.createObjectStore(store); };
  return asked(ask);
}

// Kept is a page's picture as it lies in the browser's database: drawn anew,
// without the place, time and device that a camera writes into its own.
interface Kept { id: string; file: Blob; bare?: true }

// keepPicture keeps the one picture of a page's draft, in place of an older
// one; false when the browser has no room for it or keeps nothing.
export async function keepPicture(draft: string, shot: Shot): Promise<boolean> {
  try {
    const file = await new Promise<Blob | null>((done) => shot.canvas.toBlob(done, "image/jpeg", 0.95));
    if (!file) return false;
    const db = await opened();
    try {
      await asked(db.transaction(store, "readwrite").objectStore(store).put({ id: shot.id, file, bare: true } satisfies Kept, draft));
    } finally {
      db.close();
    }
    return true;
  } catch {
    return false;
  }
}

// dropPictures forgets every picture on this device.
export const dropPictures = (): Promise<void> => new Promise((done) => {
  const ask = indexedDB.deleteDatabase(database);
  ask.onsuccess = ask.onerror = ask.onblocked = () => done();
});

async function keptPicture(draft: string, id: string): Promise<Kept | undefined> {
  const db = await opened();
  try {
    const kept = await asked<Kept | undefined>(db.transaction(store).objectStore(store).get(draft));
    return kept?.id === id ? kept : undefined;
  } finally {
    db.close();
  }
}

// Shot is a picture read: to draw, and its pixels.
export interface Shot { id: string; canvas: HTMLCanvasElement; pixels: Pixels }

// readPicture turns a file into pixels, upright as the camera noted it. HEIC,
// where the browser reads none, takes a while; stop ends it.
export async function readPicture(id: string, file: Blob, stop: AbortSignal): Promise<Shot> {
  const bitmap = await bitmapOf(file, stop);
  const scale = Math.min(1, most / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(bitmap.width * scale));
  canvas.height = Math.max(1, Math.round(bitmap.height * scale));
  const ctx = canvas.getContext("2d", { willReadFrequently: true });
  if (!ctx) throw new PhotoProblem("This browser has no room for the picture now. Close other tabs and try again.");
  ctx.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
  return { id, canvas, pixels: ctx.getImageData(0, 0, canvas.width, canvas.height) };
}

async function bitmapOf(file: Blob, stop: AbortSignal): Promise<ImageBitmap> {
  const shown = await createImageBitmap(file, { imageOrientation: "from-image" }).catch(() => undefined);
  stop.throwIfAborted();
  if (shown) return shown;
  if (!(await isHeic(file))) throw new PhotoProblem("This browser cannot read that picture. Choose a JPEG, PNG, WebP or HEIC.");
  return createImageBitmap(await heicPicture(file, stop));
}

// reopened reads the kept picture again; one that an earlier program kept as
// the camera wrote it is drawn anew.
async function reopened(draft: string, id: string, stop: AbortSignal): Promise<Shot | undefined> {
  const kept = await keptPicture(draft, id);
  if (!kept) return undefined;
  const shot = await readPicture(id, kept.file, stop);
  if (!kept.bare) await keepPicture(draft, shot);
  return shot;
}

// usePicture opens the kept picture again, after a reload.
export function usePicture(draft: string, id: string, fresh: Shot | undefined): { shot?: Shot; gone: boolean } {
  const [held, set] = useState<{ shot?: Shot; gone: boolean }>({ gone: false });
  const have = fresh?.id === id ? fresh : held.shot?.id === id ? held.shot : undefined;
  useEffect(() => {
    if (!id || have) return;
    const left = new AbortController();
    reopened(draft, id, left.signal).then(
      (shot) => { if (!left.signal.aborted) set({ shot, gone: !shot }); },
      () => { if (!left.signal.aborted) set({ gone: true }); },
    );
    return () => left.abort();
  }, [draft, id, have]);
  return { shot: have, gone: !have && held.gone };
}

// The picture lies on the board as a sheet whose longest side is 1.
export const sheetSpan = 1.02;

export function sheetOf(shot: Shot): Ground {
  const { width, height } = shot.canvas, long = Math.max(width, height);
  return { image: shot.canvas, left: -width / 2 / long, top: height / 2 / long, wide: width / long, high: height / long };
}

// onSheet and inPicture go from pixels (their middles are whole numbers) to the
// sheet and back.
export function onSheet(shot: Shot, p: Place): Place {
  const { width, height } = shot.canvas, long = Math.max(width, height);
  return { x: (p.x + 0.5 - width / 2) / long, y: (height / 2 - p.y - 0.5) / long };
}

export function inPicture(shot: Shot, p: Place): Place {
  const { width, height } = shot.canvas, long = Math.max(width, height);
  return { x: p.x * long + width / 2 - 0.5, y: height / 2 - p.y * long - 0.5 };
}

const side = 1400; // pixels of the picture seen from straight ahead

// straightened is the picture as seen from straight ahead, as large as the
// face is shown.
export function straightened(shot: Shot, map: Mat, face: Face): Ground {
  const span = shownSpan(face), back = inverse(map), { width, height, data } = shot.pixels;
  const out = new ImageData(side, side);
  for (let j = 0; j < side; j++) for (let i = 0; i < side; i++) {
    const { x, y } = mapped(back, { x: ((i + 0.5) / side - 0.5) * span, y: (0.5 - (j + 0.5) / side) * span }), at = 4 * (j * side + i);
    const u = Math.floor(x), v = Math.floor(y), inside = u >= 0 && v >= 0 && u + 1 < width && v + 1 < height;
    const a = x - u, b = y - v, from = 4 * (v * width + u), below = from + 4 * width;
    for (let k = 0; k < 3; k++) out.data[at + k] = inside ? (1 - b) * ((1 - a) * data[from + k]! + a * data[from + 4 + k]!) + b * ((1 - a) * data[below + k]! + a * data[below + 4 + k]!) : 128;
    out.data[at + 3] = 255;
  }
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = side;
  canvas.getContext("2d")!.putImageData(out, 0, 0);
  return { image: canvas, left: -span / 2, top: span / 2, wide: span, high: span };
}

// ringLines are the face's rings in the picture, on the sheet.
export function ringLines(shot: Shot, map: Mat, radii: number[]): Place[][] {
  const back = inverse(map);
  return radii.map((r) => Array.from({ length: 121 }, (_, k) => onSheet(shot, mapped(back, { x: r * Math.cos((Math.PI * k) / 60), y: r * Math.sin((Math.PI * k) / 60) }))));
}
