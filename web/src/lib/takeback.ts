import { api, Problem, put } from "./http";
import { queue, record, withdraw } from "./outbox";
import type { Far } from "./undo";
import { idAt, uuidv7 } from "./uuid";

// Taking a record back takes it out of sight, and destroys nothing: out of the
// outbox while it waits there, else by a retraction, which can be taken back
// itself.
export async function takeBack(path: string, reason: string): Promise<void> {
  if (!withdraw(path)) await retract(path.split("/").pop()!, reason);
}

// retract takes a record, or a retraction, out of sight by its id.
export const retract = (target: string, reason: string): Promise<"sent" | "kept"> => record(`${api}/retractions/${uuidv7()}`, { target, reason });

// bringBack takes a retraction back.
export const bringBack = (retraction: string): Promise<"sent" | "kept"> => retract(retraction, "brought back");

// retractAll retracts many, one after the other, with ids that follow from the
// first: going on after an interruption retracts none twice, and all of them
// are known as one act. What gets no answer waits in the outbox.
export async function retractAll(targets: string[], first: string, reason: string, far: Far): Promise<void> {
  let out = false;
  for (const [k, target] of targets.entries()) {
    const path = `${api}/retractions/${idAt(first, k)}`, body = { target, reason };
    if (!out) out = await put(path, body).then(() => false, (e: unknown) => { if (e instanceof Problem && !e.final) return true; throw e; });
    if (out) queue(path, body);
    far(k + 1, targets.length);
  }
}
