import { sha256 } from "./sha256";

declare const process: { argv: string[] };

// The sums of files of so many bytes, for the test in web/build.
const sums: string[] = [];
for (const n of JSON.parse(process.argv[2]!) as number[]) {
  const bytes = Uint8Array.from({ length: n }, (_, i) => (i * 7 + (i >> 8)) & 255);
  sums.push(Array.from(await sha256(new Blob([bytes])), (x) => x.toString(16).padStart(2, "0")).join(""));
}
console.log(JSON.stringify(sums));
