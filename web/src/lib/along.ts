import { useEffect, useState } from "preact/hooks";
import { linked } from "./link";
import { seenNames } from "./seen";
import type { BowView } from "./types";

// What of the bench this device has for the range without a network;
// takealong.ts brings it here.

// along is how far the bringing is: whether it goes on, and whether it came to
// its end since this page was opened; turn counts what came.
export const along = { running: false, tried: false, turn: 0 };
const watchers = new Set<() => void>();

export function tell(next: Partial<typeof along>): void {
  Object.assign(along, next, { turn: along.turn + 1 });
  watchers.forEach((w) => w());
}

// thrifty is a device whose person saves data.
export const thrifty = (): boolean => (navigator as { connection?: { saveData?: boolean } }).connection?.saveData ?? false;

export const sessionsOf = (bow: string): string => `/sessions?bow=${bow}&limit=500`;

// lacks are the answers without which a bow's pages of the range do not stand.
export function lacks(v: BowView, names: Set<string>): string[] {
  const trial = v.open_trial && v.setup ? [`/trials/${v.open_trial.id}`, `/ends?trial=${v.open_trial.id}`] : [];
  return [`/bows/${v.bow.id}`, ...(v.setup ? [`/bows/${v.bow.id}/setups`, sessionsOf(v.bow.id)] : []), ...trial].filter((n) => !names.has(n));
}

// Along is what of a bench is on this device; missing are the bows that are not.
export interface Along { of: number; missing: BowView[]; taking: boolean; thrifty: boolean }

// useAlong follows what of a bench this device has, undefined until it knows;
// starts says that the page itself begins to bring the rest.
export function useAlong(bows: BowView[] | undefined, starts = false): Along | undefined {
  const [state, set] = useState<Along>();
  const [now, look] = useState(along.turn);
  useEffect(() => { const watch = () => look(along.turn); watchers.add(watch); return () => { watchers.delete(watch); }; }, []);
  useEffect(() => {
    if (!bows) return;
    let gone = false;
    const all = bows.filter((v) => !v.bow.archived);
    void seenNames().then((names) => { if (!gone) set({ of: all.length, missing: all.filter((v) => lacks(v, names).length > 0), taking: linked().up && (along.running || (starts && !along.tried)), thrifty: thrifty() }); });
    return () => { gone = true; };
  }, [bows, now]);
  return state;
}
