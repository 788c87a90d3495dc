import { isFinal, mayWork } from "./answers";

declare const process: { argv: string[] };

// What is made of answers, for the test in web/build.
const asked: [number, string, string][] = JSON.parse(process.argv[2]!);
console.log(JSON.stringify(asked.map(([status, kind, code]) => ({ final: isFinal(status, kind, code), later: mayWork(status, kind) }))));
