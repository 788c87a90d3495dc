import { useEffect, useState } from "preact/hooks";
import { dropRefused, flush, refused, waiting, watchOutbox, type Waiting } from "../lib/http";
import { saveFile } from "../lib/file";
import { useTitle } from "../lib/route";
import { KeptTake, useTakes } from "../sound/recorder";
import { when } from "../lib/words";
import { Note } from "../ui/field";

// UnsentPage lists what this device still holds for the notebook: what waits
// for an answer, and what the notebook refused, with the reason.
export function UnsentPage() {
  useTitle("Not yet sent");
  const [, seen] = useState(0);
  const [busy, setBusy] = useState(false);
  useEffect(() => watchOutbox(() => seen((n) => n + 1)), []);
  const list = waiting(), back = refused(), sounds = useTakes().filter((t) => t.ended);
  const send = async () => {
    setBusy(true);
    await flush().finally(() => setBusy(false));
  };
  return (
    <>
      <p class="crumb"><a href="/">Bench</a></p>
      <h1>Not yet sent</h1>
      {list.length === 0 && back.length === 0 && sounds.length === 0 && <p>Nothing waits on this device: the notebook has everything.</p>}
      {list.length > 0 && (
        <section class="card">
          <p>These are kept on this device and go by themselves, in this order, as soon as the notebook answers.</p>
          <ul class="lines">{list.map((w) => <li key={w.path}>{describe(w)}</li>)}</ul>
          <button class="main" type="button" disabled={busy} onClick={() => void send()}>{busy ? "Sending…" : "Send now"}</button>
        </section>
      )}
      {sounds.length > 0 && <section class="card"><h2>Recordings</h2>{sounds.map((t) => <KeptTake key={t.id} take={t} />)}</section>}
      <Keeping list={[...list, ...back]} />
      {back.length > 0 && (
        <section class="card">
          <h2>Refused by the notebook</h2>
          <Note kind="warn">The notebook could not take these. Enter them anew where they belong, then take them off this list.</Note>
          {back.map((r, i) => (
            <div key={r.path} class="list-row">
              <p><strong>{describe(r)}</strong><br /><span class="faint small">{when(r.at)}</span></p>
              <p class="error">{r.why}</p>
              <details><summary>Everything in it</summary><pre>{JSON.stringify(r.body, null, 1)}</pre></details>
              <button type="button" class="quiet" onClick={() => dropRefused(i)}>Take it off the list</button>
            </div>
          ))}
        </section>
      )}
    </>
  );
}

// Keeping says how safely this browser keeps what waits, and gives it out as a
// file for when it does not.
function Keeping({ list }: { list: Waiting[] }) {
  const [kept, setKept] = useState<boolean>();
  const ask = () => void navigator.storage?.persist?.().then(setKept, () => setKept(false));
  useEffect(() => void navigator.storage?.persisted?.().then(setKept, () => setKept(false)), []);
  return (
    <section class="card">
      <h2>How safely this device keeps it</h2>
      <p>{kept === undefined ? "This browser does not say how long it keeps what pages store; send soon." : kept ? "This browser has promised not to clear it by itself." : "This browser may clear it when it runs out of room, or after some days without a visit. Send soon."}</p>
      <div class="row">
        {kept === false && <button type="button" onClick={ask}>Ask it to keep it</button>}
        {list.length > 0 && <button type="button" onClick={() => saveFile("tautline-not-sent", list)}>Save as a file</button>}
      </div>
    </section>
  );
}

function describe(w: Waiting): string {
  const noun = /\/([a-z]+)\/[0-9a-f-]+$/.exec(w.path)?.[1]?.replace(/s$/, "") ?? "record";
  const body = w.body as { kind?: string; text?: string; what?: string; name?: string };
  const about = [body.kind?.replaceAll("_", " "), body.text, body.what, body.name].filter(Boolean).join(" ");
  return about ? `${noun}: ${about}` : noun;
}
