import { allRows, useGet, useLoaded } from "../lib/load";
import { useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BenchView, BowView, ReadingView } from "../lib/types";
import { Answer } from "../ui/states";
import { kinds, type LastRead } from "./kinds";
import { lastRead, lastWords } from "./last";
import { LastDone } from "./page";

// RoundsPage lists every bow of the bench with what was last read on it.
export function RoundsPage() {
  useTitle("Round");
  const bench = useGet<BenchView>("/bows");
  return (
    <>
      <h1>Round</h1>
      <p>Scan a bow's label or tap its name, read the square three times, go on to the next.</p>
      <LastDone />
      <Answer of={bench} what="Opening the notebook…">
        {(b) => (b.bows.length === 0 ? <p>No bow yet. <a class="button" href="/bows/new">Enter a bow</a></p> : <Bows bows={b.bows} />)}
      </Answer>
    </>
  );
}

function Bows({ bows }: { bows: BowView[] }) {
  const units = useMe().me?.person.units;
  const asked = useLoaded<Record<string, LastRead>>(`${bows.map((v) => v.bow.id).join()}|${units}|round`, async (signal) =>
    Object.fromEntries(await Promise.all(bows.map(async (v) => [v.bow.id, lastRead(await allRows<ReadingView>(`/readings?bow=${v.bow.id}`, signal))] as const))), "/readings last of every bow");
  const last = asked.value;
  const labels = `/sheets/label/${bows[0]!.bow.id}${bows.length > 1 ? `?also=${bows.slice(1).map((v) => v.bow.id).join()}` : ""}`;
  return (
    <>
      <a class="button main" href={`/bows/${bows[0]!.bow.id}/round`}>Begin with {bows[0]!.bow.name}</a>
      <ul class="lines">
        {bows.map((v) => (
          <li key={v.bow.id}>
            <a href={`/bows/${v.bow.id}/round`}>{v.bow.name}</a>
            <div class="small num">{kinds.map((k) => <div key={k.kind}>{k.label}: {last ? lastWords(last[v.bow.id]?.[k.kind]) : "…"}</div>)}</div>
          </li>
        ))}
      </ul>
      <p class="row below"><a class="button" href={labels}>Print labels for these bows</a></p>
    </>
  );
}
