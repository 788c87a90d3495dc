import { readPicture } from "./picture";

// What internal/e2e/upright_test.go drives in a real browser: a file as the
// pages read it, and what stands in its four quarters.

const bytes = (text: string): Uint8Array<ArrayBuffer> => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));

async function quarters(text: string, kind: string): Promise<string> {
  const { canvas, pixels } = await readPicture("x", new Blob([bytes(text)], { type: kind }), new AbortController().signal);
  const at = (u: number, v: number): string => { const i = 4 * (Math.floor(v * canvas.height) * canvas.width + Math.floor(u * canvas.width)); return [0, 1, 2].map((k) => (pixels.data[i + k]! > 127 ? "1" : "0")).join(""); };
  return `${canvas.width}x${canvas.height} ${at(0.25, 0.25)} ${at(0.75, 0.25)} ${at(0.25, 0.75)} ${at(0.75, 0.75)}`;
}

// asWebP packs a picture anew: the test's own language writes no WebP.
async function asWebP(text: string, kind: string): Promise<string> {
  const { canvas } = await readPicture("x", new Blob([bytes(text)], { type: kind }), new AbortController().signal);
  const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/webp", 1));
  if (blob?.type !== "image/webp") throw new Error("this browser writes no WebP");
  const packed = new Uint8Array(await blob.arrayBuffer());
  if (String.fromCharCode(...packed.slice(8, 12)) !== "WEBP") throw new Error("no WebP came out");
  return btoa(String.fromCharCode(...packed));
}

Object.assign(globalThis, { reading: { quarters, asWebP } });
