import { api } from "../lib/http";
import { notIn } from "../lib/outbox";
import type { BowView, SetUp, SetUpView } from "../lib/types";

// unsentSetUps are the set-ups of a bow that this device has not sent yet, or
// only since the given time, oldest first.
export function unsentSetUps(bow: string, at = ""): SetUpView[] {
  return notIn(at).flatMap((w) => {
    const setup = w.body as Omit<SetUp, "id">;
    return w.path.startsWith(`${api}/setups/`) && setup.bow === bow ? [{ setup: { ...setup, id: w.path.split("/").pop()! }, shown: {}, unsent: true }] : [];
  });
}

// withUnsent is a bow as it stands with what this device has not sent yet: the
// next change is made from it, and what is shot belongs to it.
export function withUnsent(view: BowView, at?: string): BowView {
  const setup = unsentSetUps(view.bow.id, at).at(-1);
  return setup ? { ...view, setup, setups: view.setups + 1 } : view;
}
