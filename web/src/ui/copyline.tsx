import { useEffect, useState } from "preact/hooks";
import { inShort, troubled, useBackup } from "../lib/backup";
import { useBarBow } from "../lib/bar";
import { api, get } from "../lib/http";
import { keptTrouble } from "../lib/kept";
import { linked, oldest, watchLink } from "../lib/link";
import { refused, unsent, watchOutbox } from "../lib/outbox";
import { ago, clock, day } from "../lib/words";

// useLink follows whether the notebook answers. While it does not, it is asked
// every five seconds, since the page itself may have nothing to ask.
function useLink() {
  const read = () => ({ ...linked(), old: oldest() });
  const [state, set] = useState(read);
  useEffect(() => { set(read()); return watchLink(() => set(read())); }, []);
  useEffect(() => {
    if (state.up) return;
    const asking = setInterval(() => { if (document.visibilityState === "visible") void get(`${api}/health`, AbortSignal.timeout(4500)).catch(() => undefined); }, 5000);
    return () => clearInterval(asking);
  }, [state.up]);
  return state;
}

function useUnsentCount(): { wait: number; back: number } {
  const read = (wait: number) => ({ wait, back: refused().length });
  const [count, set] = useState(() => read(unsent())); // from the first picture on: "everything sent" is a promise
  useEffect(() => watchOutbox((wait) => set(read(wait))), []);
  return count;
}

// CopyLine answers "which copy am I on?" on every page: whether the notebook
// answers, what it does not have yet, how old its last proved backup is, and
// which bow, set-up and session what is noted belongs to. It is always as high: nothing moves under a finger.
export function CopyLine() {
  const bow = useBarBow(), link = useLink(), { wait, back } = useUnsentCount(), trouble = keptTrouble(), backup = useBackup(), alarm = backup && troubled(backup);
  const today = bow?.session && new Date(bow.session.at).toDateString() === new Date().toDateString();
  const says = wait > 0 ? `${wait} not yet sent` : "everything sent";
  return (
    <>
      <a class="copy" href="/unsent" data-unsent={wait} data-link={link.up ? "up" : "down"}>
        <span class="visually-hidden">What this device holds: </span>
        <span class="copy-row">
          <span class={link.up ? "up" : "down"}>{link.up ? "connected" : `no answer since ${clock(link.since)}`}</span>
          <span class={wait > 0 ? "num waits-here" : "num"}>{says}{back > 0 && `, ${back} refused`}</span>
          {trouble !== "" && <span class="down">{trouble === "full" ? "no room left" : "nothing is kept here"}</span>}
          {link.old && <span>as seen {ago(link.old)}</span>}
          {backup && !alarm && <span class="backup">{inShort(backup)}</span>}
        </span>
        {(bow || alarm) && (
          <span class="copy-row">
            {alarm && <span class="down backup">{inShort(backup)}</span>}
            {bow && <strong>{bow.name}{bow.archer && `, ${bow.archer}`}</strong>}
            {bow?.fork && <span class="down">two set-ups: choose</span>}
            {bow?.setup && <span>{bow.setup.reason || "as entered"}, {day(bow.setup.at)}</span>}
            {bow && <span>{today ? `session ${clock(bow.session!.at)}${bow.session!.place ? `, ${bow.session!.place}` : ""}` : "no session today"}</span>}
          </span>
        )}
      </a>
      <span class="visually-hidden" role="status">{wait > 0 ? says : ""}</span>
    </>
  );
}
