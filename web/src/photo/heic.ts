import heif from "heif.wasm.gz";
import { scriptURL } from "../lib/scripts";
import { PhotoProblem } from "./circles";
import type { Picture } from "./heif";

// HEIC in a browser that cannot show it: read in a worker, on this device.

const most = 30_000_000; // bytes of a picture (bounds.bytes in heif.ts, which only the worker loads)
const patience = 90_000; // ms; a slow phone takes half a minute for 12 million pixels

// brands are what a file of HEVC pictures calls itself (ISO/IEC 23008-12, annex
// B; "mif1" is any picture of that container).
const brands = /^(hei[cxms]|hev[cx]|mif1|msf1)$/;

// isHeic looks at a file's first box.
export async function isHeic(file: Blob): Promise<boolean> {
  const head = new Uint8Array(await file.slice(0, 256).arrayBuffer()), text = String.fromCharCode(...head);
  if (text.slice(4, 8) !== "ftyp" || text.slice(8, 12) === "avif") return false;
  const size = Math.min(new DataView(head.buffer).getUint32(0), text.length);
  return (text.slice(8, size).match(/.{4}/gs) ?? []).some((brand, k) => k !== 1 && brands.test(brand)); // the second is a version
}

const other = "Share the picture as JPEG from the phone that took it (on iPhones: camera format “Most Compatible”), and choose that.";

// heicPicture reads the picture; stop ends it.
export async function heicPicture(file: Blob, stop: AbortSignal): Promise<ImageData> {
  if (file.size > most) throw new PhotoProblem(`This picture has ${Math.round(file.size / 1e6)} MB; at most ${most / 1e6} are read. ${other}`);
  const wasm = await unpacked(stop), bytes = new Uint8Array(await file.arrayBuffer());
  stop.throwIfAborted();
  const { width, height, data } = await inWorker(wasm, bytes, stop);
  return new ImageData(data, width, height);
}

// unpacked fetches the decoder, which is kept with the pages.
async function unpacked(stop: AbortSignal): Promise<Uint8Array<ArrayBuffer>> {
  if (typeof DecompressionStream === "undefined" || typeof WebAssembly === "undefined") throw new PhotoProblem(`This browser reads no HEIC. ${other}`);
  const answer = await fetch(new URL(heif, location.origin), { signal: stop }).catch(() => undefined);
  stop.throwIfAborted();
  if (!answer?.ok || !answer.body) throw new PhotoProblem(`This browser shows HEIC only with a part of the notebook that is not on this device yet, and the notebook does not answer. Try again when it is in reach. Or: ${other.charAt(0).toLowerCase()}${other.slice(1)}`);
  return new Uint8Array(await new Response(answer.body.pipeThrough(new DecompressionStream("gzip"))).arrayBuffer());
}

async function inWorker(wasm: Uint8Array<ArrayBuffer>, file: Uint8Array<ArrayBuffer>, stop: AbortSignal): Promise<Picture> {
  const worker = new Worker(scriptURL("/heic.js"));
  let late: ReturnType<typeof setTimeout> | undefined;
  try {
    return await new Promise<Picture>((done, failed) => {
      const give = (why: string) => failed(new PhotoProblem(why || `This HEIC picture could not be read here. ${other}`));
      worker.onmessage = ({ data }: MessageEvent<{ picture?: Picture; problem?: string }>) => (data.picture ? done(data.picture) : give(data.problem ?? ""));
      worker.onerror = (e) => { e.preventDefault(); give(""); };
      stop.addEventListener("abort", () => failed(stop.reason));
      late = setTimeout(() => give(`Reading this HEIC picture takes too long here. ${other}`), patience);
      worker.postMessage({ wasm, file }, [wasm.buffer, file.buffer]);
    });
  } finally {
    clearTimeout(late);
    worker.terminate();
  }
}
