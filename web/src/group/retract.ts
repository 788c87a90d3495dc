import { useEffect, useState } from "preact/hooks";
import { api } from "../lib/http";
import { notIn, queue, watchOutbox } from "../lib/outbox";
import { uuidv7 } from "../lib/uuid";

// Taking an end back takes it out of sight; it stays in the notebook, and
// taking the taking-back back brings it in sight again. Both go out in order.

const retractions = new Map<string, string>(); // by end, of this visit
const watchers = new Set<() => void>();

export function takeBack(end: string): void {
  const id = uuidv7();
  retractions.set(end, id);
  queue(`${api}/retractions/${id}`, { target: end, reason: "taken back on the plot page" });
  watchers.forEach((w) => w());
}

export function bringBack(end: string): void {
  const target = retractions.get(end);
  retractions.delete(end);
  if (target) queue(`${api}/retractions/${uuidv7()}`, { target, reason: "undone" });
  watchers.forEach((w) => w());
}

// useTaken are the ends taken back here that the notebook's own list may not
// know of yet.
export function useTaken(): Set<string> {
  const read = () => {
    const wait = notIn().filter((w) => w.path.includes("/retractions/")).map((w) => ({ id: w.path.split("/").pop()!, target: (w.body as { target: string }).target }));
    const undone = new Set(wait.map((w) => w.target));
    return new Set([...retractions.keys(), ...wait.filter((w) => !undone.has(w.id)).map((w) => w.target)]);
  };
  const [taken, set] = useState(read);
  useEffect(() => {
    const follow = () => set(read());
    watchers.add(follow);
    const stop = watchOutbox(follow);
    return () => { watchers.delete(follow); stop(); };
  }, []);
  return taken;
}
