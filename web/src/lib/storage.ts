import { useEffect, useState } from "preact/hooks";
import { roomTold, type Storage } from "./dangers";
import { keptTrouble, watchKept } from "./kept";

// evicts: WebKit on iPhone and iPad clears what pages keep after seven days
// without a visit, unless the page is on the home screen
// (../shared/design/bars.md, U9). Such a browser tells "standalone".
const evicts = "standalone" in navigator;
const installed = (): boolean => matchMedia("(display-mode: standalone)").matches || Boolean((navigator as { standalone?: boolean }).standalone);

async function look(): Promise<Storage> {
  const s = navigator.storage as StorageManager | undefined;
  const [promised, room] = await Promise.all([s?.persisted?.().catch(() => undefined), s?.estimate?.().catch(() => undefined)]);
  return { promised, free: roomTold(room), installed: installed(), evicts, trouble: keptTrouble() };
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
