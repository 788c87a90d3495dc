import { useBow } from "../lib/bar";
import { api, post } from "../lib/http";
import { useGet, useLoaded } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { go, useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { number } from "../lib/words";
import { useQuery } from "../trial/query";
import { Choice } from "../ui/field";
import { Answer } from "../ui/states";
import { Compare } from "./compare";
import { Observed } from "./observed";
import { OneGroup } from "./onegroup";
import type { Face, Group } from "./types";
import { useFaces } from "./with";

// GroupsPage shows what all ends of a bow tell, set-up by set-up, and compares
// two of them.
export function GroupsPage({ bowId }: { bowId: string }) {
  const bow = useGet<BowView>(`/bows/${bowId}`);
  const units = useMe().me?.person;
  const groups = useLoaded<{ groups: Group[] }>(units ? `${bowId}|${units.units}|${units.decimal_comma}` : null, (signal) => post(`${api}/groups/describe`, { bow: bowId }, signal));
  const faces = useFaces();
  useBow(bow.value);
  useTitle("Groups");
  return (
    <>
      <p class="crumb"><a href={`/bows/${bowId}`}>{bow.value?.bow.name ?? "The bow"}</a></p>
      <div class="row spread head"><h1>Groups</h1><a class="button" href={`/bows/${bowId}/plot`}>Plot an end</a></div>
      <Answer of={groups} what="Looking at every end…">
        {(g) => <Answer of={faces} what="Opening the faces…">{(f) => (g.groups.length === 0 ? <None bow={bowId} /> : <All bow={bowId} groups={g.groups} faces={f.rows} />)}</Answer>}
      </Answer>
    </>
  );
}

function None({ bow }: { bow: string }) {
  return (
    <section class="card">
      <p>No end of this bow is noted yet. Every end you plot or call joins the set-up it was shot with, and this page says what they tell: how wide the group is, where it lies, which arrow flies out, and which of two set-ups is tighter.</p>
      <p class="row"><a class="button" href={`/bows/${bow}/plot`}>Plot an end</a><a class="button" href={`/bows/${bow}/ends`}>Bring a table in</a></p>
    </section>
  );
}

// keyOf names a group in the page's address.
export const keyOf = (g: Group): string => `${g.setup}~${g.distance_m ?? ""}~${g.kind}`;

// useGroupWords names a group for people.
export function useGroupWords(): (g: Group) => string {
  const comma = useComma();
  return (g) => [g.label || "set-up", g.distance_m !== null ? `${number(g.distance_m, g.distance_m % 1 ? 1 : 0, comma)} m` : "distance not noted", g.kind === "bare" && "bare shafts", `${g.n_arrows + g.n_ring_only + g.n_missed} arrows`].filter(Boolean).join(", ");
}

function All({ bow, groups, faces }: { bow: string; groups: Group[]; faces: Face[] }) {
  const newest = groups.at(-1)!;
  const asked = useQuery("of");
  const one = groups.find((g) => keyOf(g) === asked) ?? newest;
  const words = useGroupWords();
  const show = (key: string) => go(`${location.pathname}?${withQuery({ of: key })}`);
  return (
    <>
      <section class="card" aria-label="One group">
        <Choice label="Which group" value={keyOf(one)} onInput={show} options={[...groups].reverse().map((g): [string, string] => [keyOf(g), words(g)])} />
        <OneGroup key={keyOf(one)} bow={bow} group={one} face={faces.find((f) => f.key === one.face) ?? faces[0]!} faces={faces} />
      </section>
      <Compare groups={groups} />
      <Observed bow={bow} />
    </>
  );
}

// withQuery changes parts of the address's query and keeps the others.
export function withQuery(more: Record<string, string>): string {
  const q = new URLSearchParams(location.search);
  for (const [k, v] of Object.entries(more)) q.set(k, v);
  return q.toString();
}
