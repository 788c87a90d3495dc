import { useEffect } from "preact/hooks";

// useAwake keeps the screen lit while a page of the range stands: cold fingers
// should not have to unlock the phone between two arrows. Browsers allow it on
// this machine and over https only; elsewhere nothing happens.
export function useAwake(): void {
  useEffect(() => {
    let lock: { release: () => Promise<void> } | undefined, gone = false;
    const ask = () => {
      if (document.hidden || !("wakeLock" in navigator)) return;
      navigator.wakeLock.request("screen").then((l) => { if (gone) void l.release(); else lock = l; }, () => undefined); // low battery: the phone's own decision
    };
    ask();
    document.addEventListener("visibilitychange", ask);
    return () => { gone = true; document.removeEventListener("visibilitychange", ask); void lock?.release(); };
  }, []);
}
