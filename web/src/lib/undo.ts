import { useEffect, useState } from "preact/hooks";
import { told } from "./http";
import { asProblem } from "./load";

// What was just done and can be undone for a moment. It stands at the foot of
// the page, whichever page that is, with the seconds that are left; afterwards
// what was taken back is on its own page.

// Far says how far something long is.
export type Far = (n: number, of: number) => void;

export interface Undoable { said: string; undo: (far: Far) => Promise<unknown> | unknown; undone: string }

export interface Offer extends Undoable { left: number; state: "open" | "undoing" | "undone" | "failed"; n?: number; of?: number; why?: string }

export const limit = 10; // seconds to undo in (bars.md U13)
const shown = 5; // seconds for which the outcome stands

let now: Offer | undefined;
let held = false, timer = 0;
const watchers = new Set<() => void>();

function set(next: Offer | undefined): void {
  now = next;
  watchers.forEach((w) => w());
}

// offerUndo puts an act at the foot of the page, in place of the one before;
// what it gives takes the offer away again when it can no longer be undone so.
export function offerUndo(of: Undoable): () => void {
  begin({ ...of, left: limit, state: "open" });
  return () => { if (now?.undo === of.undo && now.state === "open") dismiss(); };
}

function begin(offer: Offer): void {
  clearInterval(timer);
  set(offer);
  timer = setInterval(() => {
    if (!now || held || now.state === "undoing") return;
    set(now.left > 1 ? { ...now, left: now.left - 1 } : undefined);
    if (!now) clearInterval(timer);
  }, 1000);
}

// hold stops the clock while a finger, the mouse or the keyboard is on it.
export const hold = (on: boolean): void => { held = on; };

// undoNow undoes what stands there, or tries once more.
export async function undoNow(): Promise<void> {
  const offer = now;
  if (!offer || (offer.state !== "open" && offer.state !== "failed")) return;
  held = false;
  set({ ...offer, state: "undoing" });
  try {
    await offer.undo((n, of) => set({ ...offer, state: "undoing", n, of }));
    begin({ ...offer, left: shown, state: "undone" });
  } catch (e) {
    begin({ ...offer, left: 2 * limit, state: "failed", why: told(asProblem(e)) });
  }
}

export const dismiss = (): void => { held = false; clearInterval(timer); set(undefined); };

export function useOffer(): Offer | undefined {
  const [offer, setOffer] = useState(now);
  useEffect(() => {
    const follow = () => setOffer(now);
    watchers.add(follow);
    follow();
    return () => { watchers.delete(follow); };
  }, []);
  return offer;
}
