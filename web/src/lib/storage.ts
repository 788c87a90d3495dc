import { useEffect, useState } from "preact/hooks";
import { keptTrouble, watchKept } from "./kept";

// How safely this browser keeps what the notebook does not have yet.
export interface Storage { promised?: boolean; free?: number; installed: boolean; evicts: boolean; trouble: "" | "none" | "full" }

// evicts: WebKit on iPhone and iPad clears what pages keep after seven days
// without a visit, unless the page is on the home screen
// (../shared/design/bars.md, U9). Such a browser tells "standalone".
const evicts = "standalone" in navigator;
const installed = (): boolean => matchMedia("(display-mode: standalone)").matches || Boolean((navigator as { standalone?: boolean }).standalone);

async function look(): Promise<Storage> {
  const s = navigator.storage as StorageManager | undefined;
  const [promised, room] = await Promise.all([s?.persisted?.().catch(() => undefined), s?.estimate?.().catch(() => undefined)]);
  const free = room?.quota === undefined ? undefined : room.quota - (room.usage ?? 0);
  return { promised, free, installed: installed(), evicts, trouble: keptTrouble() };
}

// askToKeep asks the browser to promise that it clears nothing by itself.
export const askToKeep = async (): Promise<void> => { await navigator.storage?.persist?.().catch(() => false); };

export function useStorage(): [Storage | undefined, () => void] {
  const [state, set] = useState<Storage>();
  const again = () => void look().then(set);
  useEffect(() => {
    again();
    return watchKept((keys) => { if (keys.length === 0) again(); });
  }, []);
  return [state, again];
}

const little = 30e6; // bytes: an evening of plotting and ten minutes of sound
const small = 400e6; // bytes: ordinary windows of a phone with room offer more

// dangers are what may cost a person what they note, most pressing first, in
// plain words; none when all is well.
export function dangers(s: Storage): string[] {
  const out: string[] = [];
  if (s.trouble === "none") out.push("This browser keeps nothing for pages, as in some private windows: what you note is lost when this page closes before it is sent. Use an ordinary window.");
  if (s.trouble === "full") out.push("This device has no room left: what you note now stays only while this page is open. Connect to the notebook, or clear some room on the device.");
  if (s.free !== undefined && s.free < little) out.push(`Only ${megabytes(s.free)} of room is left for this page. Send what waits, or clear some room, before a long session.`);
  else if (s.free !== undefined && s.free < small) out.push(`Only ${megabytes(s.free)} of room is offered to this page: this may be a private window, and what it holds is gone when it closes.`);
  if (s.evicts && !s.installed) out.push("On an iPhone or iPad what this page keeps is cleared after seven days without a visit, unless the page is on the home screen. Add it there, or send within a week.");
  else if (s.promised === false) out.push("This browser may clear what it keeps when the device runs out of room. Ask it to keep it, and send soon.");
  return out;
}

export const megabytes = (bytes: number): string => (bytes >= 1e9 ? `${Math.round(bytes / 1e8) / 10} GB` : `${Math.round(bytes / 1e6)} MB`);
