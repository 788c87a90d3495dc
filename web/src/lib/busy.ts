import { useRef, useState } from "preact/hooks";

// useBusy runs one piece of work of a form at a time: a second tap while the
// first is on its way does nothing.
export function useBusy(): { busy: boolean; run: (work: () => Promise<void>) => Promise<void> } {
  const [busy, set] = useState(false);
  const runs = useRef(false); // known at once, not with the next drawing
  const run = async (work: () => Promise<void>) => {
    if (runs.current) return;
    runs.current = true;
    set(true);
    try {
      await work();
    } finally {
      runs.current = false;
      set(false);
    }
  };
  return { busy, run };
}
