import { looks } from "./looks";

// What web/build/looks_test.go runs: pictures from the standard input, the look
// of each series to the standard output.

const stdin = (globalThis as unknown as { process: { stdin: AsyncIterable<Uint8Array> } }).process.stdin;
let text = "";
for await (const piece of stdin) text += new TextDecoder().decode(piece);
const pictures = JSON.parse(text) as Parameters<typeof looks>[0][];
console.log(JSON.stringify(pictures.map((series) => looks(series).map((l) => [l.dash ?? "", l.shape ?? ""]))));
