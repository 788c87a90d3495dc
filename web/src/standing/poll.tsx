import { useEffect, useState } from "preact/hooks";
import { useLoaded, type Loaded } from "../lib/load";
import type { Progress } from "./types";

// usePolled asks again while the notebook still computes; leaving the page
// lets the computation stop.
export function usePolled<T extends Progress>(key: string | null, ask: (signal: AbortSignal) => Promise<T>): Loaded<T> {
  const [turn, setTurn] = useState(0);
  const loaded = useLoaded<T>(key && `${key}#${turn}`, ask);
  const [last, setLast] = useState<{ key: string | null; value: T }>();
  useEffect(() => {
    if (loaded.value === undefined) return;
    setLast({ key, value: loaded.value });
    if (loaded.value.state !== "computing") return;
    const timer = setTimeout(() => { if (!document.hidden) setTurn((n) => n + 1); }, 600); // in sight again it is asked anew
    return () => clearTimeout(timer);
  }, [loaded.value]);
  // while the next answer is on its way the one before stays
  return loaded.value === undefined && last?.key === key ? { ...loaded, value: last.value } : loaded;
}

// Computing says how far it is.
export function Computing({ of, what }: { of: Progress; what: string }) {
  return (
    <p class="waits" role="status">
      {what} <progress max={1} value={of.share} aria-label={what} />
    </p>
  );
}
