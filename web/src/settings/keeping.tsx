import { dangers, megabytes } from "../lib/dangers";
import { askToKeep, useStorage } from "../lib/storage";
import { Note } from "../ui/field";
import { HelpLine } from "../ui/helpline";

// Keeping says how safely this device keeps what is noted, before it matters.
export function Keeping() {
  const [state, again] = useStorage();
  const list = state ? dangers(state) : [];
  return (
    <section class="card" aria-label="How safely this device keeps it">
      <h2>How safely this device keeps it</h2>
      {state && (
        <p>
          {state.trouble === "" && "Every tap is on the disk before the next one. "}
          {state.promised === undefined ? "This browser does not say how long it keeps what pages store." : state.promised ? "This browser has promised not to clear it by itself." : "This browser has not promised to keep it."}
          {state.free === undefined ? " It does not say how much room is left." : ` Room for ${megabytes(state.free)} more.`}
        </p>
      )}
      {list.map((d) => <Note key={d} kind="warn">{d}</Note>)}
      <p class="faint small">A private window forgets everything when it is closed, and clearing a site's data clears this too. No browser tells a page that it stands in a private window.</p>
      <HelpLine to="on-the-phone#at-the-range-without-the-notebook">What works without a network, and how it comes home</HelpLine>
      {state?.promised === false && <button type="button" onClick={() => void askToKeep().then(again)}>Ask it to keep it</button>}
    </section>
  );
}

// KeepingFirst is one line on a page of the range, only when something there
// may cost what is noted.
export function KeepingFirst() {
  const [state] = useStorage();
  const first = state && dangers(state)[0];
  return first ? <details class="beforehand"><summary>Before you rely on this device</summary><p>{first}</p><p><a class="button" href="/unsent">What it keeps</a></p></details> : null;
}
