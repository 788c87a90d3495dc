import { useEffect, useState } from "preact/hooks";
import { get, api } from "./http";
import { keep, kept, watchKept } from "./kept";

// Backup is how the automatic backups of the notebook stand; one that makes
// none has nothing to say.
export interface Backup { state: "fresh" | "none" | "old" | "failed"; last?: string; hours: number; hint?: string }

// What was last heard of it, and when: a phone out of reach goes on counting.
interface Heard { backup?: Backup; at: string }

const key = "backup", every = 10 * 60_000, soon = 20_000; // ms between two looks, and while the first is being made
const tooOld = 72; // hours (bars.md T8)
let asked = 0;

// look asks the notebook, not more often than needed.
async function look(): Promise<void> {
  if (document.hidden || Date.now() - asked < (kept<Heard>(key)?.backup?.state === "none" ? soon : every)) return;
  asked = Date.now();
  try {
    const { backup } = await get<{ backup?: Backup }>(`${api}/health`);
    keep(key, { backup, at: new Date().toISOString() } satisfies Heard);
  } catch {
    asked = 0; // out of reach: at the next look
  }
}

// useBackup gives how the backups stand as far as this device knows. Their age
// is counted on from when the notebook told it, by this device's own clock: two
// clocks that differ do no harm.
export function useBackup(): Backup | undefined {
  const [heard, set] = useState(kept<Heard>(key));
  useEffect(() => {
    const again = () => void look();
    const timer = setInterval(again, soon);
    document.addEventListener("visibilitychange", again);
    addEventListener("online", again);
    const stop = watchKept((keys) => { if (keys.includes(key)) set(kept<Heard>(key)); });
    again();
    return () => { clearInterval(timer); document.removeEventListener("visibilitychange", again); removeEventListener("online", again); stop(); };
  }, []);
  if (!heard?.backup) return undefined;
  const { backup, at } = heard, hours = backup.hours + Math.max(0, Date.now() - new Date(at).getTime()) / 3_600_000;
  return { ...backup, hours, state: backup.state === "fresh" && hours >= tooOld ? "old" : backup.state };
}

// age says hours in the largest unit that fits.
export function age(hours: number): string {
  if (hours < 1 / 60) return "less than a minute";
  const [n, word] = hours < 1 ? [Math.round(hours * 60), "minute"] : hours < 48 ? [Math.round(hours), "hour"] : [Math.floor(hours / 24), "day"];
  return `${n} ${word}${n === 1 ? "" : "s"}`;
}

// troubled tells that something is to be done about the backups.
export const troubled = (b: Backup): boolean => b.state === "old" || b.state === "failed";

// inShort is a few words of it, for a narrow line.
export function inShort(b: Backup): string {
  switch (b.state) {
    case "old": return `backup too old: ${age(b.hours)}`;
    case "failed": return "backup failed";
    case "none": return "first backup being made";
    case "fresh": return b.hours < 1 / 60 ? "backup just now" : `backup ${age(b.hours)} ago`;
  }
}
