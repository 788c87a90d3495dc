import { useLoaded } from "../lib/load";
import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { Note } from "../ui/field";
import { askVerdict } from "./api";
import { enough } from "./figures";
import type { ShootView, Step } from "./types";

// StopNow says after every pair whether it is decided: looking does not spoil
// the answer, so one may look each time and stop when it is enough.
export function StopNow({ view, shot, step }: { view: ShootView; shot: Set<number>; step: Step }) {
  const pair = view.plan.steps.filter((s) => s.block === step.block);
  const whole = view.plan.kind === "pairs" && pair.every((s) => shot.has(s.position));
  const verdict = useLoaded(whole ? `${view.id}|${[...shot].join()}` : null, (signal) => askVerdict(view.id, signal));
  const comma = useComma();
  const c = verdict.value?.comparison;
  if (!whole || !c || c.evidence === null) return null; // out of reach there is none: the plan goes on
  const decided = c.verdict !== "cannot tell yet";
  return (
    <Note>
      <p role="status">
        {decided ? <strong>It is decided: {c.verdict}. You may stop here.</strong> : <><strong>Cannot tell yet.</strong> Go on, or leave it: what is shot counts.</>}
        <br />Evidence {number(c.evidence, 1, comma)}; {enough} decides.{c.arrows_more ? ` About ${c.arrows_more} more arrows a set-up would show a difference as large as the one seen.` : ""}
      </p>
      {decided && <a class="button" href={`/trials/${view.id}?view=verdict`}>Read the verdict</a>}
    </Note>
  );
}
