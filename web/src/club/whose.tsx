import { useAccount } from "../lib/account";
import { useGet } from "../lib/load";
import type { Person, Rows } from "../lib/types";
import { Choice } from "../ui/field";

export interface Share { id: string; archer: string; bow?: string; with: string; may: "read" | "work"; at: string }

// Whose asks, in a notebook of several people, for whom a bow is entered: for
// oneself, or for an archer who lets one work on all of theirs.
export function Whose(p: { value: string; onInput: (archer: string, hand?: Person["hand"]) => void; error?: string }) {
  const { account } = useAccount();
  return account?.person ? <Archers me={account.person} {...p} /> : null;
}

function Archers({ me, value, onInput, error }: { me: string; value: string; onInput: (archer: string, hand?: Person["hand"]) => void; error?: string }) {
  const people = useGet<Rows<Person>>("/people"), shares = useGet<Rows<Share>>("/shares");
  const coached = new Set((shares.value?.rows ?? []).filter((s) => s.with === me && s.may === "work" && !s.bow).map((s) => s.archer));
  const archers = (people.value?.rows ?? []).filter((x) => coached.has(x.id));
  if (archers.length === 0 && !value) return null;
  return <Choice label="Whose bow it is" value={value} options={[["", "mine"], ...archers.map((x): [string, string] => [x.id, x.name])]} onInput={(id) => onInput(id, archers.find((x) => x.id === id)?.hand)} error={error} />;
}
