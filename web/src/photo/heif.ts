// A HEIC picture into pixels, by libheif and libde265 as one WebAssembly file.
// It is given the picture's bytes and memory with an end: no file, no network,
// no clock. Turned and mirrored as the container says (irot, imir); what a
// camera wrote about place and time is read by nobody and goes no further.

const page = 64 << 10; // bytes in WebAssembly's unit of memory

// bounds are what a picture may ask for (bars.md T19, T20).
export const bounds = {
  bytes: 30_000_000,
  pixels: 50_000_000,
  memory: 512 << 20, // a picture of 50 million pixels takes some 300 MB
  side: 2400, // a longer one is brought to less than twice this
};

export interface Picture { width: number; height: number; data: Uint8ClampedArray<ArrayBuffer> }

// HeicProblem is why there is no picture, in words for the archer.
export class HeicProblem extends Error {}

const asJPEG = "Share it as JPEG from the phone that took it, and choose that.";
const damaged = () => new HeicProblem(`This HEIC picture is damaged, or of a kind that cannot be read here. ${asJPEG}`);

// withEnd gives the file's one memory a most, which it does not state itself:
// the standard's section 5, of limits without a maximum (WebAssembly 1.0, 5.5.8).
export function withEnd(wasm: Uint8Array, most: number): Uint8Array<ArrayBuffer> {
  let at = 8;
  const whole = (): number => { let v = 0, shift = 0, b; do { b = wasm[at++]!; v |= (b & 127) << shift; shift += 7; } while (b & 128); return v; };
  while (at < wasm.length) {
    const start = at, kind = wasm[at++], size = whole(), end = at + size;
    if (kind === 5 && whole() === 1 && wasm[at++] === 0) {
      const limits = [1, 1, ...leb(whole()), ...leb(most / page)];
      return joined(wasm.subarray(0, start), Uint8Array.from([5, ...leb(limits.length), ...limits]), wasm.subarray(end));
    }
    at = end;
  }
  throw new Error("no memory to give an end");
}

function leb(v: number): number[] { return v < 128 ? [v] : [(v & 127) | 128, ...leb(v >>> 7)]; }

function joined(...parts: Uint8Array[]): Uint8Array<ArrayBuffer> {
  const all = new Uint8Array(parts.reduce((n, p) => n + p.length, 0));
  parts.reduce((at, p) => { all.set(p, at); return at + p.length; }, 0);
  return all;
}

interface Heif {
  memory: WebAssembly.Memory;
  _initialize(): void;
  malloc(bytes: number): number;
  decode(file: number, bytes: number, only: number, width: number, height: number, space: number, chroma: number, premultiplied: number, out: number): number;
}

// started is the decoder with memory of its own. What it may ask the system
// for is refused: 8 is "no such file" (WASI's EBADF).
function started(module: WebAssembly.Module): Heif {
  const refuse = Object.fromEntries(WebAssembly.Module.imports(module).map((i) => [i.name, () => 8]));
  const system = { ...refuse, proc_exit: () => { throw new Error("the decoder gave up"); } };
  const heif = new WebAssembly.Instance(module, { wasi_snapshot_preview1: system }).exports as unknown as Heif;
  heif._initialize();
  return heif;
}

// Shape is what the file says of its picture, turned as it is to be shown.
interface Shape { width: number; height: number; space: number; chroma: number }

// The file's numbers for colours and for how many of them there are.
const ycc = 0, rgb = 1, grey = 2, halfBoth = 1, halfAcross = 2;

// decoded reads a picture, or throws a HeicProblem.
export function decoded(module: WebAssembly.Module, file: Uint8Array): Picture {
  try {
    return read(started(module), file);
  } catch (e) {
    if (e instanceof HeicProblem) throw e;
    throw damaged(); // it left its memory, ran out of it, or gave up
  }
}

function read(heif: Heif, file: Uint8Array): Picture {
  const bytes = heif.malloc(file.length), told = heif.malloc(20);
  if (!bytes || !told) throw damaged();
  new Uint8Array(heif.memory.buffer).set(file, bytes);
  const ask = (only: number, out: number): Shape => {
    if (heif.decode(bytes, file.length, only, told, told + 4, told + 8, told + 12, told + 16, out) !== 1) throw damaged();
    const [width, height, space, chroma] = new Uint32Array(heif.memory.buffer, told, 4);
    return { width: width!, height: height!, space: space!, chroma: chroma! };
  };
  const shape = ask(1, 0);
  fitting(shape);
  const layout = laidOut(shape), out = heif.malloc(layout.size);
  if (!out) throw damaged();
  const again = ask(0, out);
  if (again.width !== shape.width || again.height !== shape.height) throw damaged();
  return shrunk(shape, layout, new Uint8Array(heif.memory.buffer, out, layout.size));
}

// fitting refuses before anything is decoded.
function fitting({ width, height }: Shape): void {
  if (width < 64 || height < 64) throw new HeicProblem("This HEIC picture is too small to show a face. Choose the picture itself, not its preview.");
  if (width * height > bounds.pixels) throw new HeicProblem(`This HEIC picture has ${Math.round((width * height) / 1e6)} million pixels; at most ${bounds.pixels / 1e6} are read. Share it smaller, as JPEG, and choose that.`);
}

interface Layout { stride: number; across: 0 | 1; down: 0 | 1; blue: number; red: number; less: number; size: number }

// laidOut is where the planes lie: each row takes 64 bytes or more, a multiple
// of 16.
function laidOut({ width, height, space, chroma }: Shape): Layout {
  const row = (n: number) => (Math.max(n, 64) + 15) & ~15;
  const across = chroma === halfBoth || chroma === halfAcross ? 1 : 0, down = chroma === halfBoth ? 1 : 0;
  const stride = space === rgb ? row(4 * width) : row(width), blue = stride * height;
  const less = row((width + across) >> across), red = blue + less * ((height + down) >> down);
  return { stride, across, down, blue, red, less, size: 2 * red - blue + page };
}

// shrunk brings the planes to colours; of a large picture each square of k by
// k pixels becomes one, of their mean.
function shrunk(shape: Shape, l: Layout, raw: Uint8Array): Picture {
  const k = Math.max(1, Math.floor(Math.max(shape.width, shape.height) / bounds.side));
  const width = Math.floor(shape.width / k), height = Math.floor(shape.height / k), data = new Uint8ClampedArray(4 * width * height);
  const add = shape.space === rgb ? addRGB : shape.space === ycc ? addYCC : addGrey, sum = new Float64Array(3);
  for (let y = 0, at = 0; y < height; y++) for (let x = 0; x < width; x++, at += 4) {
    sum.fill(0);
    for (let v = y * k; v < (y + 1) * k; v++) for (let u = x * k; u < (x + 1) * k; u++) add(sum, raw, l, u, v);
    for (let c = 0; c < 3; c++) data[at + c] = sum[c]! / (k * k);
    data[at + 3] = 255;
  }
  return { width, height, data };
}

type Add = (sum: Float64Array, raw: Uint8Array, l: Layout, x: number, y: number) => void;

const addRGB: Add = (sum, raw, l, x, y) => { for (let c = 0; c < 3; c++) sum[c]! += raw[y * l.stride + 4 * x + c]!; };

const addGrey: Add = (sum, raw, l, x, y) => { for (let c = 0; c < 3; c++) sum[c]! += raw[y * l.stride + x]!; };

// addYCC uses the full range and the weights of ITU-T T.871 (JFIF), as phones do.
const addYCC: Add = (sum, raw, l, x, y) => {
  const at = (y >> l.down) * l.less + (x >> l.across), light = raw[y * l.stride + x]!, b = raw[l.blue + at]! - 128, r = raw[l.red + at]! - 128;
  sum[0]! += light + 1.402 * r;
  sum[1]! += light - 0.344136 * b - 0.714136 * r;
  sum[2]! += light + 1.772 * b;
};
