import { bounds, decoded, HeicProblem, withEnd } from "./heif";

// Reads HEIC pictures from the standard input as the pages' worker does, for
// web/build/heic_test.go: each is 4 bytes of length, one that says whether the
// pixels are wanted, and the file. Answers a line of JSON each.

interface Node {
  stdin: AsyncIterable<Uint8Array<ArrayBuffer>>;
  argv: string[];
  getBuiltinModule(name: "fs"): { readFileSync(path: string): Uint8Array<ArrayBuffer> };
  getBuiltinModule(name: "zlib"): { gunzipSync(packed: Uint8Array): Uint8Array<ArrayBuffer> };
}
const { process } = globalThis as unknown as { process: Node };

const packed = process.getBuiltinModule("fs").readFileSync(process.argv[2]!);
const module = await WebAssembly.compile(withEnd(process.getBuiltinModule("zlib").gunzipSync(packed), bounds.memory));

function answer(file: Uint8Array, pixels: boolean) {
  const began = performance.now(), took = () => performance.now() - began;
  try {
    const p = decoded(module, file);
    return { width: p.width, height: p.height, ms: took(), pixels: pixels ? base64(p.data) : "" };
  } catch (e) {
    if (!(e instanceof HeicProblem)) throw e;
    return { problem: e.message, ms: took() };
  }
}

function base64(data: Uint8ClampedArray): string {
  let text = "";
  for (let at = 0; at < data.length; at += 30_000) text += btoa(String.fromCharCode(...data.subarray(at, at + 30_000)));
  return text;
}

let held = new Uint8Array(0);
for await (const piece of process.stdin) {
  const all = new Uint8Array(held.length + piece.length);
  all.set(held);
  all.set(piece, held.length);
  held = all;
  for (;;) {
    if (held.length < 5) break;
    const size = new DataView(held.buffer, held.byteOffset).getUint32(0);
    if (held.length < 5 + size) break;
    console.log(JSON.stringify(answer(held.slice(5, 5 + size), held[4] === 1)));
    held = held.slice(5 + size);
  }
}
