import { dangers, megabytes, roomTold, type Storage } from "./dangers";

declare const process: { argv: string[] };

// What a person is told of each state of a browser, for the test in web/build.
const asked: Storage[] = JSON.parse(process.argv[2]!);
console.log(JSON.stringify({ said: asked.map(dangers), sizes: [0, 29.4e6, 999e6, 1e9, 12.34e9].map(megabytes), told: [undefined, {}, { quota: 10 * 2 ** 30 + 41, usage: 41 }, { quota: 5e9, usage: 1e9 }, { quota: 20e6, usage: 30e6 }, { quota: 7, usage: 7 }].map((r) => roomTold(r) ?? null) }));
