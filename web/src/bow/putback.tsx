import { useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useGet } from "../lib/load";
import { go, useTitle } from "../lib/route";
import type { BowView, SetUpView, Tree } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { Note } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { useSend } from "../club/form";
import { Cautions } from "./forecast";
import { labelOf } from "./fields";
import { storeSetUp } from "./store";

interface Change { key: string; label: string; from?: string; to: string; by?: string }
interface PutBack {
  setup: string; bow: string; reason: string; now: string; sheet: string; after: string[]; cautions: string[];
  steps: { part: string; do: string; tool: string; changes: Change[] }[];
  noted: { key: string; label: string; first: string; second: string }[];
}

// PutBackPage is the way from a bow as it now reads to one of its set-ups, as a
// list to work down.
export function PutBackPage({ id }: { id: string }) {
  const way = useGet<PutBack>(`/setups/${id}/putback`);
  const setup = useGet<SetUpView>(`/setups/${id}`);
  const bow = useGet<BowView>(way.value ? `/bows/${way.value.bow}` : null);
  useTitle("Put a set-up back");
  useBow(bow.value?.bow);
  return (
    <>
      <h1>Put a set-up back</h1>
      <Answer of={way} what="Comparing with the bow as it reads…">
        {(w) => (
          <>
            <p class="crumb"><a href={`/bows/${w.bow}`}>{bow.value?.bow.name ?? "The bow"}</a></p>
            <p class="lead">{w.reason || "An earlier set-up"}: what to change from the bow as it now reads, in this order, since what an earlier step moves spoils the later.</p>
            {w.steps.length === 0 ? <Note>Nothing to change: the bow stands so.</Note> : (
              <>
                <p class="row no-print"><a class="button" href={w.sheet}>Sheet to print</a></p>
                <ol class="way">{w.steps.map((s) => <Step key={s.part} of={s} />)}</ol>
                <h2>Then</h2>
                <ol>{w.after.map((a) => <li key={a}>{a}</li>)}</ol>
                {setup.value && bow.value?.setup && <Done way={w} setup={setup.value} />}
              </>
            )}
            {w.noted.length > 0 && (
              <details class="card">
                <summary>Differs as noted; nothing to set</summary>
                <ul>{w.noted.map((d) => <li key={d.key}>{labelOf(d.key)}: {d.first || "not noted"} now, {d.second || "not noted"} then</li>)}</ul>
              </details>
            )}
            <Cautions lines={w.cautions} />
          </>
        )}
      </Answer>
    </>
  );
}

function Step({ of }: { of: PutBack["steps"][number] }) {
  return (
    <li class="card">
      <h2>{of.part}</h2>
      <p>{of.do} <span class="faint">With: {of.tool}.</span></p>
      <ul class="plain">{of.changes.map((c) => (
        <li key={c.key} class="num">{c.label}: {c.from ? <><del>{c.from}</del> <span aria-hidden="true">→</span> </> : "not noted, to "}<ins>{c.to}</ins>{c.by && <strong> ({c.by})</strong>}</li>
      ))}</ul>
    </li>
  );
}

// uncounted leaves out how much the string had been shot then: it went on.
function uncounted(settings: Tree): Tree {
  const { shots_on_it: _, ...string } = (settings.string ?? {}) as Tree;
  return settings.string ? { ...settings, string } : settings;
}

// Done notes that the bow is set so again: the next set-up of the bow.
function Done({ way, setup }: { way: PutBack; setup: SetUpView }) {
  const [id] = useState(uuidv7);
  const { busy, problem, send } = useSend();
  const note = () => send(async () => {
    await storeSetUp(id, { bow: way.bow, parent: way.now, reason: `Put back: ${way.reason || "an earlier set-up"}`, settings: uncounted(setup.setup.settings), at: new Date().toISOString() });
    go(`/bows/${way.bow}`);
  });
  return (
    <div class="no-print">
      <button type="button" class="main" disabled={busy} onClick={() => void note()}>{busy ? "Saving…" : "The bow is set so again"}</button>
      <p class="help">Makes the next set-up of this bow, as that one was. What you then read otherwise, note as a reading.</p>
      {problem && <Wrong problem={problem} />}
    </div>
  );
}
