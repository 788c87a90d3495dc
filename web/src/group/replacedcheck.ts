// Prints which ends of lists stand by the pages' own rule, for a test in Go.
import { replaced } from "./replaced";

const rows = JSON.parse((globalThis as unknown as { process: { argv: string[] } }).process.argv[2]!) as { held: string; taken: string }[];
console.log(JSON.stringify(rows.map(({ held, taken }) => {
  const ends = held.split(" ").map((w) => ({ id: w.split(">")[0]!, corrects: w.split(">")[1] })), back = new Set(taken.split(" "));
  const gone = replaced(ends, back);
  return ends.filter((e) => !gone.has(e.id) && !back.has(e.id)).map((e) => e.id).join(" ");
})));
