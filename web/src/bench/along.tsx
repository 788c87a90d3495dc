import { useEffect, useState } from "preact/hooks";
import { useAlong } from "../lib/along";
import { seen } from "../lib/seen";
import type { BenchView, BowView } from "../lib/types";
import { useNamed } from "../lib/whose";

// TakenAlong says which bows this device has for the range, and names those
// that it does not have; starts: the page brings them.
export function TakenAlong({ bows, starts = false }: { bows: BowView[]; starts?: boolean }) {
  const along = useAlong(bows, starts), named = useNamed();
  if (!along || along.of === 0) return null;
  const { missing, of } = along, here = of - missing.length;
  if (missing.length === 0) return <p class="doubt below along" data-along="whole">{of === 1 ? "The bow is on this device" : `All ${of} bows are on this device`}: the range opens without a network.</p>;
  return (
    <section class="below along" data-along={along.taking ? "taking" : "part"}>
      <p class="doubt">
        {here} of {of} bows are on this device for the range without a network.
        {along.thrifty ? " This device saves data, so that only what was opened is kept." : along.taking ? " The others are on their way." : " The others come when the bench is looked at with the notebook in reach and room on the device."}
      </p>
      <details>
        <summary>Not on this device: {missing.length}</summary>
        <ul class="plain">{missing.map((v) => <li key={v.bow.id}>{named(v)}</li>)}</ul>
      </details>
    </section>
  );
}

// KeptAlong is the same of the bench as this device saw it last.
export function KeptAlong() {
  const [bench, set] = useState<BenchView>();
  useEffect(() => { void seen<BenchView>("/bows").then((b) => set(b?.value)); }, []);
  return bench ? <TakenAlong bows={bench.bows} /> : null;
}
