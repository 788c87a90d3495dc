import { useState } from "preact/hooks";
import { api } from "../lib/http";
import { asProblem, useGet } from "../lib/load";
import { takeBack } from "../lib/takeback";
import type { Difference, Rows, SetUpView } from "../lib/types";
import { when } from "../lib/words";
import { Waits, Wrong } from "../ui/states";
import { labelOf, wordFor } from "./fields";

// History is every set-up of a bow, newest first: what changed and why. None
// is ever overwritten.
export function History({ bow, changed }: { bow: string; changed: () => void }) {
  const history = useGet<Rows<SetUpView>>(`/bows/${bow}/setups`);
  return (
    <section class="card">
      <h2>How it came here</h2>
      {history.value ? <ol class="history" reversed>{history.value.rows.map((v, i) => <Step key={v.setup.id} of={v} now={i === 0} changed={changed} />)}</ol>
        : history.problem ? <Wrong problem={history.problem} again={history.again} /> : <Waits what="Looking back…" />}
    </section>
  );
}

function Step({ of, now, changed }: { of: SetUpView; now: boolean; changed: () => void }) {
  const [wrong, setWrong] = useState("");
  const askAgain = () => void takeBack(`${api}/setups/${of.setup.id}`, "to be asked again").then(changed, (e: unknown) => setWrong(asProblem(e).message));
  const first = !of.setup.parent;
  return (
    <li>
      <h3>{when(of.setup.at)}{now && <span class="tag">now</span>}</h3>
      <p>{of.setup.reason || (first ? "First set-up." : "No reason noted.")}</p>
      {(of.changes?.length ?? 0) > 0 && <Changes of={of.changes!} />}
      <p class="small"><a href={`/sheets/setup/${of.setup.id}`}>Sheet of this set-up</a>{!now && <>, <a href={`/setups/${of.setup.id}/putback`}>put it back</a></>}</p>
      {now && (of.setup.settles?.length ?? 0) > 0 && <button type="button" class="quiet" onClick={askAgain}>Take this choice back</button>}
      {wrong && <p class="error" role="alert">{wrong}</p>}
    </li>
  );
}

export function Changes({ of }: { of: Difference[] }) {
  return (
    <dl class="diff">
      {of.map((c) => (
        <div key={c.key}>
          <dt>{labelOf(c.key)}</dt>
          <dd class="num"><del>{wordFor(c.key, c.before)}</del> <span aria-hidden="true">→</span> <ins>{wordFor(c.key, c.after)}</ins></dd>
        </div>
      ))}
    </dl>
  );
}
