// SHA-256 (FIPS 180-4) of a file, a piece at a time: what browsers offer takes
// the whole of it into memory, and is missing over plain http.

const primes = (n: number): number[] => {
  const found: number[] = [];
  for (let p = 2; found.length < n; p++) if (found.every((q) => p % q !== 0)) found.push(p);
  return found;
};
const bits = (x: number): number => Math.floor((x - Math.floor(x)) * 2 ** 32) >>> 0; // the first 32 of the fraction
const round = Uint32Array.from(primes(64), (p) => bits(Math.cbrt(p)));
const begin = Uint32Array.from(primes(8), (p) => bits(Math.sqrt(p)));

const turn = (x: number, by: number): number => (x >>> by) | (x << (32 - by));

// block works 64 bytes into the state.
function block(state: Uint32Array, w: Uint32Array, bytes: DataView, at: number): void {
  for (let i = 0; i < 16; i++) w[i] = bytes.getUint32(at + 4 * i);
  for (let i = 16; i < 64; i++) {
    const x = w[i - 15]!, y = w[i - 2]!;
    w[i] = w[i - 16]! + (turn(x, 7) ^ turn(x, 18) ^ (x >>> 3)) + w[i - 7]! + (turn(y, 17) ^ turn(y, 19) ^ (y >>> 10));
  }
  let [a, b, c, d, e, f, g, h] = state as unknown as [number, number, number, number, number, number, number, number];
  for (let i = 0; i < 64; i++) {
    const t = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + round[i]! + w[i]!) | 0;
    const s = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    h = g; g = f; f = e; e = (d + t) | 0; d = c; c = b; b = a; a = (t + s) | 0;
  }
  [a, b, c, d, e, f, g, h].forEach((x, i) => { state[i] = state[i]! + x; });
}

const piece = 1 << 20; // bytes at a time, a multiple of 64: a slow phone draws a frame in between

// sha256 reads the file through and gives the 32 bytes.
export async function sha256(file: Blob): Promise<Uint8Array> {
  const state = begin.slice(), w = new Uint32Array(64);
  const work = (bytes: DataView) => { for (let at = 0; at + 64 <= bytes.byteLength; at += 64) block(state, w, bytes, at); };
  const whole = file.size - (file.size % 64);
  for (let at = 0; at < whole; at += piece) work(new DataView(await file.slice(at, Math.min(at + piece, whole)).arrayBuffer()));
  const rest = new Uint8Array(await file.slice(whole).arrayBuffer());
  const last = new Uint8Array(rest.length < 56 ? 64 : 128), view = new DataView(last.buffer);
  last.set(rest);
  last[rest.length] = 0x80;
  view.setUint32(last.length - 8, Math.floor(file.size / 2 ** 29));
  view.setUint32(last.length - 4, (file.size * 8) >>> 0);
  work(view);
  const out = new DataView(new ArrayBuffer(32));
  state.forEach((x, i) => out.setUint32(4 * i, x));
  return new Uint8Array(out.buffer);
}
