import { api, get } from "./http";
import { stoppedNow, takesNothing } from "./link";
import { waiting } from "./outbox";

// Whether the notebook takes what is sent to it, asked before somebody notes
// something: after a failed write it answers and reads, and takes nothing more.

// A full disk shows only when something is written: with nothing on its way
// the word of it is taken back, and comes again if it must.
async function look(): Promise<void> {
  try {
    await get(`${api}/ready`);
  } catch {
    return; // what it answered is noted where it was asked
  }
  if (stoppedNow()?.code === "read-only" || waiting().length === 0) takesNothing("");
}

// watchWriting looks after opening, when the page comes back into sight, and
// every half minute while something is wrong.
export function watchWriting(): void {
  const see = () => { if (!document.hidden) void look(); };
  setTimeout(see, 2000); // after what is in sight
  document.addEventListener("visibilitychange", see);
  setInterval(() => { if (stoppedNow()) see(); }, 30_000);
}
