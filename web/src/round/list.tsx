import { useState } from "preact/hooks";
import { useGet } from "../lib/load";
import { useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BenchView, BowView } from "../lib/types";
import { byArcher, found, inOrder } from "../lib/whose";
import { Find, manyBows, unfolded } from "../ui/find";
import { Answer } from "../ui/states";
import { kinds } from "./kinds";
import { useLasts, type Lasts } from "./last";
import { LastDone } from "./page";

// RoundsPage lists every bow of the bench with what was last read on it.
export function RoundsPage() {
  useTitle("Round");
  const bench = useGet<BenchView>("/bows"), lasts = useLasts();
  return (
    <>
      <h1>Round</h1>
      <p>Scan a bow's label or tap its name, read the square three times, go on to the next.</p>
      <LastDone />
      <Answer of={bench} what="Opening the notebook…">
        {(b) => (b.bows.length === 0 ? <p>No bow yet. <a class="button" href="/bows/new">Enter a bow</a></p> : <Bows bows={b.bows} lasts={lasts} />)}
      </Answer>
    </>
  );
}

function Bows({ bows, lasts }: { bows: BowView[]; lasts: Lasts }) {
  const me = useMe().me?.person.id;
  const [asked, ask] = useState("");
  const shown = inOrder(found(bows, asked), me), groups = byArcher(shown, me), named = byArcher(bows, me).length > 1;
  const first = shown[0];
  return (
    <>
      {bows.length >= manyBows && <Find value={asked} onInput={ask} shown={shown.length} of={bows.length} />}
      {first && <a class="button main" href={`/bows/${first.bow.id}/round`}>Begin with {first.bow.name}{groups[0]!.name && `, ${groups[0]!.name}`}</a>}
      {groups.map((g) => (named && shown.length > unfolded
        ? <details key={g.key} class="archer"><summary><span>{g.name || "Mine"} <span class="faint small">{g.bows.length === 1 ? "1 bow" : `${g.bows.length} bows`}</span></span></summary><Lines bows={g.bows} lasts={lasts} /></details>
        : <section key={g.key} class="archer">{(named || g.name) && <h2>{g.name || "Mine"}</h2>}<Lines bows={g.bows} lasts={lasts} /></section>))}
      <Labels bows={shown} />
    </>
  );
}

function Lines({ bows, lasts }: { bows: BowView[]; lasts: Lasts }) {
  return (
    <ul class="lines">
      {bows.map((v) => (
        <li key={v.bow.id}>
          <a href={`/bows/${v.bow.id}/round`}>{v.bow.name}</a>
          <div class="small num">{kinds.map((k) => <div key={k.kind}>{k.label}: {lasts.words(v.bow.id, k.kind)}</div>)}</div>
        </li>
      ))}
    </ul>
  );
}

const aSheet = 150; // labels on one sheet: the server's bound is 200, and an address has an end

// Labels lead to the sheets of labels of the bows shown.
function Labels({ bows }: { bows: BowView[] }) {
  const sheets: BowView[][] = [];
  for (let at = 0; at < bows.length; at += aSheet) sheets.push(bows.slice(at, at + aSheet));
  return (
    <p class="row below">
      {sheets.map((of, i) => (
        <a key={i} class="button" href={`/sheets/label/${of[0]!.bow.id}${of.length > 1 ? `?also=${of.slice(1).map((v) => v.bow.id).join()}` : ""}`}>
          Print labels for {sheets.length === 1 ? "these bows" : `bows ${i * aSheet + 1} to ${i * aSheet + of.length}`}
        </a>
      ))}
    </p>
  );
}
