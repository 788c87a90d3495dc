import { useMemo } from "preact/hooks";
import { useEnds } from "../group/ends";
import { useFaces } from "../group/with";
import { useBow } from "../lib/bar";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BowView, Rows, SetUpView } from "../lib/types";
import { useQuery } from "../trial/query";
import { useUnsent } from "../trial/send";
import { Answer, Waits } from "../ui/states";
import { viewOf, waitingFeels, type TrialRecord } from "./api";
import { FollowPage } from "./follow";
import { Planned } from "./planned";
import { TypeUp } from "./typeup";
import { ShootVerdict } from "./verdict";

const views: [string, string][] = [["", "Shoot"], ["plan", "Plan"], ["card", "Card"], ["verdict", "Verdict"]];

// ShootTrial is a trial that is judged by where arrows hit, or by feel: the
// page for the range, its plan, and its verdict.
export function ShootTrial({ record, again }: { record: TrialRecord; again: () => void }) {
  const view = useMemo(() => viewOf(record), [record]);
  const bow = useGet<BowView>(`/bows/${view.bow}`);
  const faces = useFaces();
  const setups = useGet<Rows<SetUpView>>(`/bows/${view.bow}/setups`);
  const ends = useEnds(`trial=${view.id}`, (e) => e.trial === view.id);
  useUnsent();
  useBow(bow.value);
  useTitle(view.plan.title);
  const shown = useQuery("view");
  const shot = new Set([...(ends.value ?? []).map((e) => e.end.stop ?? -1), ...(view.plan.kind === "tiller" ? [] : [...record.felt, ...waitingFeels(view.id)])]);
  const page = (b: BowView) => (
    <Answer of={faces} quiet what="Opening the faces…">
      {(f) => !ends.ready ? <Waits what="Opening the ends…" /> : <FollowPage view={view} bow={b} faces={f.rows} setups={setups.value?.rows ?? []} shot={shot} ends={ends.value ?? []} again={() => { ends.again(); again(); }} />}
    </Answer>
  );
  return (
    <>
      <h1>{view.plan.title}</h1>
      <nav class="views no-print" aria-label="Parts of this trial">
        {views.map(([key, text]) => <a key={key} href={key ? `/trials/${view.id}?view=${key}` : `/trials/${view.id}`} aria-current={key === shown ? "page" : undefined}>{text}</a>)}
      </nav>
      {shown === "" && <Answer of={bow} quiet what="Opening the bow…">{page}</Answer>}
      {shown === "card" && (
        <Answer of={faces} quiet what="Opening the faces…">
          {(f) => !ends.ready ? <Waits what="Opening the ends…" /> : <TypeUp view={view} faces={f.rows} ends={ends.value ?? []} shot={shot} again={() => { ends.again(); again(); }} />}
        </Answer>
      )}
      {shown === "plan" && <Planned plan={view.plan} />}
      {shown === "verdict" && <ShootVerdict view={view} ends={ends.value ?? []} seen={[...shot].sort().join() + (ends.value ?? []).map((e) => e.end.id).join()} unsent={(ends.value ?? []).some((e) => e.unsent)} />}
    </>
  );
}
