import { useEffect, useState } from "preact/hooks";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BenchView } from "../lib/types";
import { Answer } from "../ui/states";
import { LastBackup } from "./backup";
import { TakenAlong } from "./along";
import { Bows } from "./bows";
import { Doors, DemoBand, HalfTyped } from "./doors";
import { LittleSpace } from "./space";

// BenchPage shows every bow at a glance; an empty notebook shows three ways in.
export function BenchPage() {
  useTitle("Bench");
  const [away, setAway] = useState(false);
  const bench = useGet<BenchView>(`/bows${away ? "?archived=true" : ""}`);
  useEffect(() => {
    if (!bench.value || bench.seen) return;
    const timer = setTimeout(() => void import("../lib/takealong").then((m) => m.takeAlong(bench.value!), () => undefined), 3000); // after what is in sight
    return () => clearTimeout(timer);
  }, [bench.value, bench.seen]);
  return (
    <Answer of={bench} what="Opening the notebook…" title="Bench">
      {(b) => b.bows.length === 0 && !away
        ? <Doors changed={bench.again} />
        : (
          <>
            <div class="row spread head">
              <h1>Bench</h1>
              <div class="row">
                <a class="button" href="/round">Round</a>
                {b.bows.length > 1 && <a class="button" href="/week">The week</a>}
                <a class="button" href="/bows/new">Enter another bow</a>
              </div>
            </div>
            <HalfTyped />
            <DemoBand changed={bench.again} />
            <Bows bows={b.bows} old={bench.seen !== undefined} />
            <p class="row below"><button type="button" class="quiet" aria-pressed={away} onClick={() => setAway(!away)}>{away ? "Hide bows put away" : "Show bows put away"}</button></p>
            <TakenAlong bows={b.bows} starts />
            <LittleSpace />
            <LastBackup />
          </>
        )}
    </Answer>
  );
}
