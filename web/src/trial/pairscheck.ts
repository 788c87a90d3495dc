import { spreadOf } from "../group/spread";
import { comparePairs, evidence, moreArrows, type Pair } from "./pairs";
import type { Place } from "../group/geometry";

// What the range works out without the notebook, for cases read from the
// standard input; web/build/range_test.go makes the cases with Go's own
// numbers and compares.

interface Cases { golden: { d: number[]; nu: number[] }; pairs: Pair[][]; groups: Place[][][] }

const stdin = (globalThis as unknown as { process: { stdin: AsyncIterable<Uint8Array> } }).process.stdin;
let text = "";
for await (const piece of stdin) text += new TextDecoder().decode(piece);
const { golden, pairs, groups } = JSON.parse(text) as Cases;
console.log(JSON.stringify({ golden: evidence(golden.d, golden.nu), pairs: pairs.map(comparePairs), more: await Promise.all(pairs.map((p) => moreArrows(p))), groups: groups.map(spreadOf) }));
