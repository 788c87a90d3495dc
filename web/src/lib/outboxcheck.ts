import { api } from "./http";
import { keptSafely, openKept } from "./kept";
import { flush, keepFlushing, notIn, queue, refused, waiting } from "./outbox";
import { uuidv7 } from "./uuid";

// What internal/e2e/outbox_test.go drives in a real browser: the outbox as the
// pages use it, without their forms. A session is an evening of ends; whoever
// shot one looks whether it is noted, and notes it again if it is not.

declare function acked(what: string): void; // tells the test that this is on the disk

const path = (kind: string, id: string) => `${api}/${kind}/${id}`;
const noted = (note: string): boolean => notIn().some((w) => (w.body as { note?: string }).note === note);

// session notes the ends of a session in order; names are told to the test
// when the device says that they are kept.
async function session(bow: string, setup: string, name: string, ends: number, pause: number): Promise<void> {
  let id = "";
  if (noted(name)) id = notIn().find((w) => (w.body as { note?: string }).note === name)!.path.split("/").pop()!;
  else queue(path("sessions", (id = uuidv7())), { bow, note: name });
  await keptSafely();
  acked(name);
  for (let n = 1; n <= ends; n++) {
    const note = `${name}/${n}`;
    if (!noted(note)) queue(path("ends", uuidv7()), { bow, setup, session: id, number: n, face: "122", distance: "70 m", note, impacts: [{ arrow: "1", x_m: n / 100, y_m: -n / 100 }, { arrow: "2", x_m: 0.01, y_m: 0 }] });
    await keptSafely();
    acked(note);
    await new Promise((r) => setTimeout(r, pause * Math.random()));
  }
}

const begun = openKept().then(keepFlushing);
Object.assign(globalThis, { drill: { begun, session, flush, unsent: () => waiting().length, refused: () => refused().length } });
