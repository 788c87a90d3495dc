import { useEffect, useState } from "preact/hooks";
import { stoppedNow, watchLink } from "../lib/link";
import { capital } from "../lib/words";
import { Note } from "./field";

// Stopped says on every page that the notebook takes nothing more, why, and
// what to do about it on its machine.
export function Stopped() {
  const [now, set] = useState(stoppedNow);
  useEffect(() => { set(stoppedNow()); return watchLink(() => set(stoppedNow())); }, []);
  return now ? <Note kind="bad"><strong>The notebook takes nothing just now.</strong> {now.why} {now.hint && `${capital(now.hint)}.`} What you note waits on this device and goes by itself afterwards.</Note> : null;
}
