import { useMemo } from "preact/hooks";
import type { ShownEnd } from "../group/ends";
import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { enough } from "../trial/pairs";
import { Note } from "../ui/field";
import { decisionOf, useMore } from "./decision";
import type { ShootView, Step } from "./types";

// StopNow says after every pair whether it is decided: looking does not spoil
// the answer, so one may look each time and stop when it is enough. It is
// worked out here, with or without a network.
export function StopNow({ view, shot, step, ends }: { view: ShootView; shot: Set<number>; step: Step; ends: ShownEnd[] }) {
  const pair = view.plan.steps.filter((s) => s.block === step.block);
  const whole = view.plan.kind === "pairs" && pair.every((s) => shot.has(s.position));
  const now = useMemo(() => (whole ? decisionOf(view.plan, ends) : null), [whole, view.plan, ends.map((e) => e.end.id).join()]);
  const more = useMore(view.plan, ends, now), comma = useComma();
  if (!now) return null;
  const decided = now.verdict !== "cannot tell yet", { value, low, high } = now.ratio;
  return (
    <Note>
      <p role="status">
        {decided ? <strong>It is decided: {now.verdict}. You may stop here.</strong> : <><strong>Cannot tell yet.</strong> Go on, or leave it: what is shot counts.</>}
        <br />Evidence {number(now.evidence, 1, comma)} from {now.pairs} {now.pairs === 1 ? "pair" : "pairs"}; {enough} decides. The spread of A is {number(value!, 2, comma)} times that of B ({number(low!, 2, comma)} to {high === null ? "no upper limit" : number(high, 2, comma)}).
        {!decided && moreWords(more)}
      </p>
      {decided && <a class="button" href={`/trials/${view.id}?view=verdict`}>Read the verdict</a>}
    </Note>
  );
}

// moreWords says how many more arrows it may take, once that is worked out.
export function moreWords(more: number | undefined): string {
  if (more === undefined) return "";
  return more > 0 ? ` About ${more} more arrows a set-up would show a difference as large as the one seen.` : " With a difference as small as the one seen, sixty more pairs would often not decide.";
}
