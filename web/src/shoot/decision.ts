import { useEffect, useState } from "preact/hooks";
import type { ShownEnd } from "../group/ends";
import { isPlaced, type Place } from "../group/geometry";
import { comparePairs, moreArrows, type Pair, type PairsView } from "../trial/pairs";
import type { ShootPlan } from "./types";

// pairsOf puts the ends of a plan's blocks side by side, as the notebook does
// (workbench/trialjudge.go): fletched arrows with a place, the k-th end of A
// beside the k-th of B, ends of one arrow left out.
export function pairsOf(plan: ShootPlan, ends: ShownEnd[]): Pair[] {
  const blocks = new Map<number, { A: Place[][]; B: Place[][] }>();
  for (const { end } of ends) {
    const step = plan.steps[end.stop ?? -1], places = end.impacts.filter((i) => isPlaced(i) && !i.bare).map((i) => ({ x: i.x_m!, y: i.y_m! }));
    if (!step || (step.label !== "A" && step.label !== "B") || places.length === 0) continue;
    const block = blocks.get(step.block) ?? { A: [], B: [] };
    block[step.label].push(places);
    blocks.set(step.block, block);
  }
  const inOrder = [...blocks].sort(([a], [b]) => a - b).map(([, block]) => block);
  return inOrder.flatMap(({ A, B }) => A.slice(0, B.length).map((a, k) => ({ a, b: B[k]! }))).filter(({ a, b }) => a.length > 1 && b.length > 1);
}

// decisionOf is where a comparison in pairs stands, from every end that is on
// this device, sent or not; null for other kinds of trial.
export const decisionOf = (plan: ShootPlan, ends: ShownEnd[]): PairsView | null => (plan.kind === "pairs" ? comparePairs(pairsOf(plan, ends)) : null);

// useMore is about how many more arrows a set-up it would take to tell; 0 where
// sixty pairs more would often not do, undefined until it is worked out.
export function useMore(plan: ShootPlan, ends: ShownEnd[], now: PairsView | null): number | undefined {
  const [known, setKnown] = useState<{ of: string; more: number }>();
  const of = now && now.verdict === "cannot tell yet" ? ends.map((e) => e.end.id).join() : "";
  useEffect(() => {
    if (!of) return;
    let gone = false;
    void moreArrows(pairsOf(plan, ends), () => gone).then((more) => { if (more !== undefined && !gone) setKnown({ of, more }); });
    return () => { gone = true; };
  }, [of]);
  return known?.of === of && of !== "" ? known.more : undefined;
}
