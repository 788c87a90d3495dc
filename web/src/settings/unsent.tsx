import { useEffect, useState } from "preact/hooks";
import { KeptAlong } from "../bench/along";
import { LastBackup } from "../bench/backup";
import { dropRefused, flush, parcel, refused, sendAgain, setAside, stuckOn, unpack, waiting, watchOutbox, withdraw, type Unpacked } from "../lib/outbox";
import { saveFile } from "../lib/file";
import { told } from "../lib/http";
import { useAccount } from "../lib/account";
import { useTitle } from "../lib/route";
import { saidOf } from "../lib/said";
import { retractAll } from "../lib/takeback";
import { offerUndo, type Far } from "../lib/undo";
import { uuidv7 } from "../lib/uuid";
import { KeptTake, useTakes } from "../sound/recorder";
import { when } from "../lib/words";
import { Note } from "../ui/field";
import { Keeping } from "./keeping";

// UnsentPage lists what this device still holds for the notebook: what waits
// for an answer, and what the notebook refused, with the reason.
export function UnsentPage() {
  useTitle("Not yet sent");
  const [, seen] = useState(0);
  const [busy, setBusy] = useState(false);
  useEffect(() => watchOutbox(() => seen((n) => n + 1)), []);
  const list = waiting(), back = refused(), sounds = useTakes().filter((t) => t.ended);
  const me = useAccount().account?.person ?? "", theirs = list.filter((w) => w.by && w.by !== me).length;
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
          {theirs > 0 && <p>{theirs === list.length ? "They wait" : `${theirs} of them ${theirs === 1 ? "waits" : "wait"}`} until whoever wrote {theirs === 1 && list.length > 1 ? "it" : "them"} is logged in on this device again.</p>}
          <ul class="lines">{list.map((w) => <li key={w.path}>{saidOf(w)}</li>)}</ul>
          <Stuck />
          <button class="main" type="button" disabled={busy} onClick={() => void send()}>{busy ? "Sending…" : "Send now"}</button>
        </section>
      )}
      {sounds.length > 0 && <section class="card"><h2>Recordings</h2>{sounds.map((t) => <KeptTake key={t.id} take={t} />)}</section>}
      <LastBackup />
      <Parcels some={list.length + back.length > 0} />
      <Keeping />
      <KeptAlong />
      {back.length > 0 && (
        <section class="card">
          <h2>Refused by the notebook</h2>
          <Note kind="warn">The notebook could not take these. Send them again after the reason is gone, or enter them anew where they belong and take them off this list.</Note>
          <button type="button" onClick={() => sendAgain()}>Send them again</button>
          {back.map((r, i) => (
            <div key={r.path} class="list-row">
              <p><strong>{saidOf(r)}</strong><br /><span class="faint small">{when(r.at)}</span></p>
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

// Stuck says what the first of the row was answered when that was no refusal:
// it is tried again by itself, and holds up the rest until then.
function Stuck() {
  const p = stuckOn();
  if (!p) return null;
  return (
    <Note kind="warn">
      <p>The last try was answered: {told(p)}</p>
      {p.status === 500 && <button type="button" onClick={() => void setAside()}>Set the first aside and send the rest</button>}
    </Note>
  );
}

// giveBack takes the records of a file back: those that wait are thrown away,
// since the file has them; those that the notebook got by this file are taken
// back there. What it had before stays.
async function giveBack({ paths, fresh }: Unpacked, far: Far): Promise<void> {
  const there = paths.filter((p) => !withdraw(p) && fresh.has(p) && !p.includes("/retractions/"));
  await retractAll(there.map((p) => p.split("/").pop()!), uuidv7(), "the whole file taken back", far);
}

// Parcels gives what waits out as a file, and takes such a file in: from a
// phone that has no network to one that has, or from one that is given away.
function Parcels({ some }: { some: boolean }) {
  const [said, say] = useState<{ words: string; bad?: boolean }>();
  const take = async (input: HTMLInputElement) => {
    const file = input.files?.[0];
    input.value = "";
    if (!file) return;
    try {
      const taken = unpack(await file.text()), n = taken.paths.length;
      offerUndo({ said: `${n} ${n === 1 ? "record" : "records"} taken over.`, undo: (far) => giveBack(taken, far), undone: "The whole file is taken back." });
      say({ words: `${n} ${n === 1 ? "record" : "records"} taken over. What the notebook has already is not stored twice.` });
    } catch (e) {
      say({ words: e instanceof Error ? e.message : String(e), bad: true });
    }
  };
  return (
    <section class="card" aria-label="As a file">
      <h2>As a file</h2>
      <p>Everything that waits here can go by another way: save it, bring the file to a device that reaches the notebook, take it in there. Taken in twice it is stored once. Recordings are saved one by one, above.</p>
      <div class="row">
        {some && <button type="button" onClick={() => saveFile("tautline-not-sent", parcel())}>Save as a file</button>}
        <label class="button">Take a file in<input class="visually-hidden" type="file" accept="application/json,.json" onChange={(e) => void take(e.currentTarget)} /></label>
      </div>
      {said && <Note kind={said.bad ? "bad" : undefined}><p role="status">{said.words}</p></Note>}
    </section>
  );
}
