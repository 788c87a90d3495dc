import { useEffect, useState } from "preact/hooks";
import { useBarBow } from "../lib/bar";
import { keptTrouble } from "../lib/kept";
import { linked, oldest, watchLink } from "../lib/link";
import { refused, watchOutbox } from "../lib/outbox";
import { ago, clock, when } from "../lib/words";

// useLink follows whether the notebook answers.
function useLink() {
  const read = () => ({ ...linked(), old: oldest() });
  const [state, set] = useState(read);
  useEffect(() => { set(read()); return watchLink(() => set(read())); }, []);
  return state;
}

export function useUnsentCount(): { wait: number; back: number } {
  const [count, set] = useState({ wait: 0, back: 0 });
  useEffect(() => watchOutbox((wait) => set({ wait, back: refused().length })), []);
  return count;
}

// UnsentSpoken tells a screen reader when the count changes.
export function UnsentSpoken() {
  const { wait } = useUnsentCount();
  return <span class="visually-hidden" role="status">{wait > 0 ? `${wait} not yet sent` : ""}</span>;
}

// CopyLine answers "which copy am I on?" on every page: whether the notebook
// answers, what it does not have yet, and which set-up and session what is
// noted belongs to.
export function CopyLine() {
  const bow = useBarBow(), link = useLink(), { wait, back } = useUnsentCount();
  const set = bow?.setup && `set-up ${bow.setup.reason || "as entered"}, ${when(bow.setup.at)}`;
  const today = bow?.session && new Date(bow.session.at).toDateString() === new Date().toDateString();
  const session = bow && (today ? `session ${bow.session!.place || "of today"}, ${clock(bow.session!.at)}` : "no session today");
  return (
    <a class="copy" href="/unsent" data-unsent={wait} data-link={link.up ? "up" : "down"}>
      <span class="visually-hidden">What this device holds:</span>
      <span class={link.up ? "up" : "down"}>{link.up ? "connected" : `no answer since ${clock(link.since)}`}</span>
      {link.old && <span>as seen {ago(link.old)}</span>}
      <span class={wait > 0 ? "num waits-here" : "num"}>{wait > 0 ? `${wait} not yet sent` : "everything sent"}{back > 0 && `, ${back} refused`}</span>
      {keptTrouble() !== "" && <span class="down">{keptTrouble() === "full" ? "no room left on this device" : "this browser keeps nothing"}</span>}
      {set && <span>{set}</span>}
      {session && <span>{session}</span>}
    </a>
  );
}
