import "./standing.css";
import { api, get, told } from "../lib/http";
import { useGet } from "../lib/load";
import { useMe } from "../lib/me";
import { Note } from "../ui/field";
import { WorkGraph, WorkList } from "./graph";
import { Computing, usePolled } from "./poll";
import type { Ledger, Standings } from "./types";

// useStandings asks how a bow's results stand, in this person's units.
export function useStandings(bow: string, all = false) {
  const person = useMe().me?.person;
  const key = person ? `${bow}|${all}|${person.units}|${person.decimal_comma}|${person.hand}` : null;
  return usePolled<Standings>(key, (signal) => get<Standings>(`${api}/bows/${bow}/standing${all ? "?all=true" : ""}`, signal));
}

// WorkCard stands on the bow's page: the order of work and where it now
// stands.
export function WorkCard({ bow }: { bow: string }) {
  const of = useStandings(bow);
  const work = of.value?.work;
  const doubtful = (of.value?.standings ?? []).filter((s) => s.state !== "fresh" && !s.superseded_by).length;
  return (
    <section class="card" aria-labelledby="work-head">
      <h2 id="work-head">Where the work stands</h2>
      {of.problem && !of.value && <Note>It cannot be told yet. {told(of.problem)}</Note>}
      {(!of.value && !of.problem || of.value?.state === "computing") && <Computing of={of.value ?? { state: "computing", share: 0 }} what="Looking at what was changed since…" />}
      {work && (
        <>
          <p><strong>{work.next}</strong></p>
          <WorkGraph work={work} />
          <WorkList work={work} />
          <p class="row below"><a class="button" href={`/bows/${bow}/standing`}>Does the old result still count?</a></p>
          {doubtful > 0 && <p class="faint">{doubtful === 1 ? "One result is" : `${doubtful} results are`} drifted or stale.</p>}
        </>
      )}
    </section>
  );
}

// LedgerCard stands on the bow's page: how many forecasts came true.
export function LedgerCard({ bow }: { bow: string }) {
  const of = useGet<Ledger>(`/bows/${bow}/ledger`);
  return (
    <section class="card" aria-labelledby="ledger-head">
      <h2 id="ledger-head">Forecasts against readings</h2>
      {of.problem && !of.value && <Note>{told(of.problem)}</Note>}
      {of.value && (
        <>
          {of.value.counted > 0 && <HitBar of={of.value} />}
          <p>{of.value.text}</p>
          {of.value.waiting.length > 0 && <p class="faint">{of.value.waiting.length} sealed and waiting for a reading.</p>}
          <p class="row"><a class="button" href={`/bows/${bow}/ledger`}>The ledger</a></p>
        </>
      )}
    </section>
  );
}

// HitBar draws the share inside the band with its interval, and what the bands
// claim.
export function HitBar({ of }: { of: Ledger }) {
  const at = (v: number) => `${100 * v}%`;
  return (
    <div class="hits" role="img" aria-label={`${of.inside} of ${of.counted} inside; in the long run between ${Math.round(100 * of.share_low)} and ${Math.round(100 * of.share_high)} %; claimed ${Math.round(100 * of.level)} %`}>
      <span class="span" style={{ left: at(of.share_low), right: at(1 - of.share_high) }} />
      <span class="claim" style={{ left: at(of.level) }} />
      <span class="seen" style={{ left: at(of.inside / of.counted) }} />
    </div>
  );
}
