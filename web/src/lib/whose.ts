import { useMe } from "./me";
import type { BowView } from "./types";

interface Owned { bow: { owner?: string }; archer?: string; demo?: boolean }

// theirs is whose bow it is, where that is not the reader; "" for one's own,
// the demo's, and in what a program from before told.
export function theirs(of: Owned, me: string | undefined): string {
  if (!me || of.demo || !of.bow.owner || of.bow.owner === me) return "";
  return of.archer ?? "";
}

// useTheirs is theirs for whoever reads.
export function useTheirs(): (of: Owned) => string {
  const me = useMe().me?.person.id;
  return (of) => theirs(of, me);
}

// useNamed is a bow's name with its archer's, where that is not who reads.
export function useNamed(): (of: BowView) => string {
  const whose = useTheirs();
  return (of) => [of.bow.name, whose(of)].filter(Boolean).join(", ");
}

// Group is the bows of one archer.
export interface Group { key: string; name: string; bows: BowView[] }

// byArcher groups bows by whose they are: the reader's own first, then by name.
export function byArcher(bows: BowView[], me: string | undefined): Group[] {
  const groups = new Map<string, Group>();
  for (const v of bows) {
    const name = theirs(v, me), key = name && v.bow.owner!;
    if (!groups.has(key)) groups.set(key, { key, name, bows: [] });
    groups.get(key)!.bows.push(v);
  }
  const order = (a: string, b: string) => a.localeCompare(b, undefined, { numeric: true, sensitivity: "base" });
  return [...groups.values()].sort((a, b) => Number(a.key !== "") - Number(b.key !== "") || order(a.name, b.name) || order(a.key, b.key));
}

// inOrder is the bows as their groups list them: the way of a round.
export const inOrder = (bows: BowView[], me: string | undefined): BowView[] => byArcher(bows, me).flatMap((g) => g.bows);

const plain = (s: string): string => s.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

// found are the bows that every typed word is in, in the bow's or the archer's
// name; accents and capitals do not matter.
export function found<T extends Owned & { bow: { name: string } }>(bows: T[], words: string): T[] {
  const asked = plain(words).split(/\s+/).filter(Boolean);
  return bows.filter((v) => { const in_ = plain(`${v.bow.name} ${v.archer ?? ""}`); return asked.every((w) => in_.includes(w)); });
}
