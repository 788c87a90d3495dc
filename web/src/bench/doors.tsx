import { useState } from "preact/hooks";
import { FileButton } from "../bow/file";
import { newBowKey, type NewBow } from "../bow/newdraft";
import { isEmpty } from "../bow/typed";
import { readDraft } from "../lib/draft";
import { api, put, request, type Problem } from "../lib/http";
import { asProblem, useGet } from "../lib/load";
import { go } from "../lib/route";
import type { DemoView } from "../lib/types";
import { Note } from "../ui/field";
import { Wrong } from "../ui/states";

// Doors are the three ways into an empty notebook.
export function Doors({ changed }: { changed: () => void }) {
  return (
    <>
      <h1>Nothing on the bench yet</h1>
      <p class="lead">Tautline keeps what you set, measure and hear on your bow, works out what each brace height would do, and helps you choose one. Begin with your bow.</p>
      <HalfTyped />
      <div class="cards doors">
        <section class="card">
          <h2>Enter my bow</h2>
          <p>Draw length, draw weight, brace height and arrow mass are enough. Five minutes.</p>
          <a class="button main" href="/bows/new">Enter my bow</a>
        </section>
        <DemoDoor changed={changed} />
        <FileDoor />
      </div>
    </>
  );
}

// HalfTyped leads back to a bow that was not finished.
export function HalfTyped() {
  const draft = readDraft<NewBow>(newBowKey);
  if (!draft || (isEmpty(draft.typed) && draft.name === "")) return null;
  return <Note>A bow you began to enter{draft.name && `, ${draft.name},`} is kept on this device. <a href="/bows/new">Go on with it</a></Note>;
}

// DemoCard loads the demo, or takes it out, on a bench that has bows already.
export function DemoCard() {
  const demo = useGet<DemoView>("/demo");
  const change = useDemo(demo.again);
  if (!demo.value?.offered) return null;
  return (
    <section class="card">
      <h2>Invented bows</h2>
      {demo.value.loaded
        ? <><p>Three invented bows stand on the bench, marked as invented everywhere and left out of every export. Taking them out leaves nothing of them, nor of what you wrote down on them.</p><button type="button" disabled={change.busy} onClick={() => void change.remove()}>Take the invented bows out</button></>
        : <><p>Three invented bows with readings, recordings and a finished trial, to look at beside your own. They go without a trace.</p><button type="button" disabled={change.busy} onClick={() => void change.put()}>{change.busy ? "Loading…" : "Load the invented bows"}</button></>}
      {change.problem && <Wrong problem={change.problem} />}
    </section>
  );
}

function DemoDoor({ changed }: { changed: () => void }) {
  const demo = useGet<DemoView>("/demo");
  const load = useDemo(changed);
  return (
    <section class="card">
      <h2>Try the demo</h2>
      {demo.value?.offered ? (
        <>
          <p>Invented bows with readings, recordings and a finished trial, put beside your own. They go without a trace when you take them out.</p>
          <button type="button" disabled={load.busy} onClick={() => void load.put()}>{load.busy ? "Loading…" : "Load the demo bows"}</button>
        </>
      ) : (
        <>
          <p>Invented bows with readings, recordings and a finished trial, in a notebook of their own. In a terminal:</p>
          <p><code class="command">tautline demo</code></p>
          <p class="faint small">Your own notebook stays as it is.</p>
        </>
      )}
      {load.problem && <Wrong problem={load.problem} />}
    </section>
  );
}

// DemoBand reminds that invented bows stand among one's own.
export function DemoBand({ changed }: { changed: () => void }) {
  const demo = useGet<DemoView>("/demo");
  const change = useDemo(() => { demo.again(); changed(); });
  if (!demo.value?.offered || !demo.value.loaded) return null;
  return (
    <Note>
      <p>The bows marked “invented” are the demo’s. They are in no export, and go without a trace, together with what you wrote down on them.</p>
      <button type="button" disabled={change.busy} onClick={() => void change.remove()}>Take the invented bows out</button>
      {change.problem && <Wrong problem={change.problem} />}
    </Note>
  );
}

function useDemo(changed: () => void) {
  const [busy, setBusy] = useState(false);
  const [problem, setProblem] = useState<Problem>();
  const run = async (ask: () => Promise<unknown>) => {
    setBusy(true);
    setProblem(undefined);
    try {
      await ask();
      changed();
    } catch (e) {
      setProblem(asProblem(e));
    } finally {
      setBusy(false);
    }
  };
  return { busy, problem, put: () => run(() => put(`${api}/demo`, {})), remove: () => run(() => request("DELETE", `${api}/demo`)) };
}

// FileDoor reads a bow file in the browser; nothing is stored until it was
// looked over and saved.
function FileDoor() {
  return (
    <section class="card">
      <h2>Bring a file</h2>
      <p>A bow file written by hand or by another notebook (BOW.json). It fills the form; you look it over before anything is stored.</p>
      <FileButton onRead={() => go("/bows/new")} />
      <p class="faint small">A whole notebook comes in with <code>tautline import</code>.</p>
    </section>
  );
}
