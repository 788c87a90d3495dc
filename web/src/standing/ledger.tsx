import { useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { capital, when } from "../lib/words";
import { Note } from "../ui/field";
import { Answer } from "../ui/states";
import { HitBar } from "./cards";
import type { Ledger, LedgerRow } from "./types";

// LedgerPage sets every forecast against its reading.
export function LedgerPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  const ledger = useGet<Ledger>(`/bows/${id}/ledger`);
  useTitle(bow.value && `Ledger of ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "The bow"}</a></p>
      <h1>Forecasts against readings</h1>
      <p class="lead">A forecast is sealed when a change or a trial is made, before its reading can arrive. The first reading afterwards is held against it.</p>
      <Answer of={ledger} what="Opening the ledger…">{(v) => <Page of={v} />}</Answer>
    </>
  );
}

function Page({ of }: { of: Ledger }) {
  const [all, setAll] = useState(false);
  const shown = all ? of.entries : of.entries.slice(0, 20);
  return (
    <>
      <section class="card">
        <h2>How often the band was right</h2>
        {of.counted > 0 && <HitBar of={of} />}
        <p>{of.text}</p>
        <p class="doubt">Bar: where the share lies in the long run, 90 % (Jeffreys's interval). Dot: seen. Line: what the bands claim.</p>
        {of.widened.length > 0 && <Note kind="warn"><p>Misses widen the bands to come:</p><ul>{of.widened.map((w) => <li key={w.label}>{w.label}: × {w.factor}</li>)}</ul></Note>}
      </section>
      <section class="card">
        <h2>Met their reading</h2>
        {of.entries.length === 0 && <p class="faint">None yet. Make a change, then take a reading of what was read before it.</p>}
        {shown.length > 0 && <Rows list={shown} met />}
        {of.entries.length > shown.length && <p class="below"><button type="button" onClick={() => setAll(true)}>Show all {of.entries.length}</button></p>}
      </section>
      <section class="card">
        <h2>Sealed and waiting</h2>
        {of.waiting.length === 0 ? <p class="faint">None.</p> : <Rows list={of.waiting.slice(0, 30)} />}
      </section>
    </>
  );
}

function Rows({ list, met = false }: { list: LedgerRow[]; met?: boolean }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={met ? "Forecasts that met their reading" : "Forecasts that wait"}>
      <table>
        <thead><tr><th scope="col">what</th><th scope="col">forecast</th><th scope="col">90 % band</th>{met && <th scope="col">read</th>}{met && <th scope="col">inside</th>}<th scope="col">sealed</th></tr></thead>
        <tbody>
          {list.map((r) => (
            <tr key={r.id}>
              <td>{capital(r.label)}{!r.fitted && <span class="faint small"> unfitted</span>}</td>
              <td>{r.forecast}</td>
              <td>{r.band}</td>
              {met && <td>{r.got}</td>}
              {met && <td><span class={`standing ${r.inside ? "fresh" : "stale"}`}>{r.inside ? "✓ yes" : "! no"}</span></td>}
              <td>{when(r.sealed_at)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
