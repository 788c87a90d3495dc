import type { End } from "./types";

type Link = Pick<End, "id" | "corrects">;

// replaced are the ends that others put right, by the notebook's rule: of
// several corrections of one end the last in the list, which is in the order of
// receipt, stands. What was taken back stands for nothing, but a correction of
// it is one of the first end.
export function replaced(ends: Link[], taken: ReadonlySet<string> = new Set()): Set<string> {
  const next = new Map(ends.map((e) => [e.id, e.corrects ?? ""]));
  const root = (id: string): string => {
    for (let left = next.size; left > 0 && next.get(id); left--) id = next.get(id)!;
    return id;
  };
  const live = ends.filter((e) => e.corrects && !taken.has(e.id));
  const gone = new Set(live.map((e) => e.corrects!)), last = new Map<string, string>();
  for (const e of live) if (!gone.has(e.id)) last.set(root(e.id), e.id);
  for (const e of ends) if (last.has(root(e.id)) && last.get(root(e.id)) !== e.id) gone.add(e.id);
  return gone;
}
