import { useState } from "preact/hooks";
import { saveText } from "../lib/file";
import { api, get, type Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { Wrong } from "../ui/states";

// Support makes a text for whoever helps, to be read before it leaves the
// house. In a club it is for the owner.
export function Support() {
  const [text, set] = useState("");
  const [problem, say] = useState<Problem>();
  const [busy, setBusy] = useState(false);
  const make = async () => {
    setBusy(true);
    say(undefined);
    try {
      set((await get<{ text: string }>(`${api}/support`)).text);
    } catch (e) {
      say(asProblem(e));
    } finally {
      setBusy(false);
    }
  };
  return (
    <section class="card" aria-label="When something is wrong">
      <h2>When something is wrong</h2>
      <p>A support file tells whoever helps you how this notebook stands: versions, how many records of each kind there are, the backups, the program's own log. No name, note, reading or address is in it. It is sent nowhere.</p>
      {problem && <Wrong problem={problem} />}
      {text && (
        <>
          <p>Read it through. What you do not want to give away you can take out after saving.</p>
          <pre class="scroll support" tabIndex={0} role="region" aria-label="The support file">{text}</pre>
        </>
      )}
      <div class="row">
        {text && <button type="button" class="main" onClick={() => saveText("tautline-support.txt", text)}>Save this file</button>}
        <button type="button" class={text ? "quiet" : ""} disabled={busy} onClick={() => void make()}>{busy ? "Looking…" : text ? "Make it anew" : "Make a support file"}</button>
      </div>
    </section>
  );
}
