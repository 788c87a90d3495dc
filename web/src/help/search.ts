import { everything, type Page, piecesOf, wordsOf } from "./pages";

// The search of the manual: every word that was typed must stand in a section,
// as a word or as a word's beginning. The terminal finds the same
// (docs/search.go); a test holds one to the other.

export interface Section { page: string; title: string; of: string; anchor: string; plain: string; weight: number; words: { page: Counted; heading: Counted; body: Counted } }
type Counted = Map<string, number>; // how often each word stands there
export interface Place { page: string; of: string; title: string; anchor: string; around: [string, string, string]; score: number }

// weightOf puts what tells how to do something before what is looked up, that
// before the reasons, those before what is for programs.
const weightOf = (p: Page): number => (p.group === "Look something up" ? 5 : { manual: 8, why: 2 }[p.part] ?? 1);

// sectionsOf cuts the pages at their headings.
export function sectionsOf(pages: Page[]): Section[] {
  return pages.flatMap((p) => {
    const list: Section[] = [];
    for (const t of piecesOf(p.text)) {
      if (t.anchor !== undefined) {
        const title = wordsOf([t]).trim();
        list.push({ page: p.name, of: p.title, title, anchor: t.anchor, plain: "", weight: weightOf(p), words: { page: counted(p.title), heading: counted(title), body: new Map() } });
      } else if (list.length > 0) list.at(-1)!.plain += `${wordsOf([t])} `;
    }
    for (const s of list) s.words.body = counted(s.plain);
    return list;
  });
}

let made: Promise<Section[]> | undefined;

// index reads the whole manual once, page by page, so that a phone answers
// fingers meanwhile.
export function index(): Promise<Section[]> {
  made ??= everything().then(async (pages) => {
    const list: Section[] = [];
    for (const p of pages) {
      list.push(...sectionsOf([p]));
      await new Promise((next) => { setTimeout(next); });
    }
    return list;
  });
  made.catch(() => { made = undefined; });
  return made;
}

// tokens are the words of a text in small letters; one with a dash counts as
// its parts and as one word: "walk-back" is found by "walkback".
export function tokens(text: string): string[] {
  const low = text.toLowerCase();
  return [...words(low), ...[...low.matchAll(/([\p{L}\p{N}]+)-([\p{L}\p{N}]+)/gu)].map((m) => m[1]! + m[2]!)];
}

// words are the runs of letters and numbers of a text in small letters.
const words = (low: string): string[] => low.match(/[\p{L}\p{N}]+/gu) ?? [];

function counted(text: string): Counted {
  const words: Counted = new Map();
  for (const w of tokens(text)) words.set(w, (words.get(w) ?? 0) + 1);
  return words;
}

const fits = (word: string, asked: string) => word.startsWith(asked) || (asked.length > 3 && asked === `${word}s`);

export function search(sections: Section[], query: string): Place[] {
  const asked = words(query.toLowerCase()); // "walk-back" asks for both, however they are written
  if (asked.length === 0) return [];
  return sections.map((s) => ({ s, score: scoreOf(s, asked) })).filter(({ score }) => score > 0).sort((a, b) => b.score - a.score)
    .map(({ s, score }) => ({ page: s.page, of: s.of, title: s.title, anchor: s.anchor, around: around(s.plain.trim(), asked), score }));
}

function scoreOf({ words, weight }: Section, asked: string[]): number {
  let sum = words.heading.size === asked.length && asked.every((w) => words.heading.has(w)) ? 20 : 0; // the heading is just what was typed
  for (const word of asked) {
    const count = (list: Counted, most: number) => {
      let n = 0;
      for (const [w, times] of list) if (fits(w, word)) n += times;
      return Math.min(most, n);
    };
    const found = 20 * count(words.heading, 1) + 6 * count(words.page, 1) + count(words.body, 4);
    if (found === 0) return 0;
    sum += found;
  }
  return sum * weight;
}

// around is the place in a text where a word that was typed stands: what is
// before it, itself, and what follows.
const reach = 70;
function around(plain: string, asked: string[]): [string, string, string] {
  const at = asked.flatMap((w) => [...plain.matchAll(new RegExp(`(?<![\\p{L}\\p{N}])${w}[\\p{L}\\p{N}]*`, "giu"))].slice(0, 1)).sort((a, b) => a.index - b.index)[0];
  const from = at ? at.index : 0, to = from + (at?.[0].length ?? 0);
  const begin = from <= reach ? 0 : plain.indexOf(" ", from - reach) + 1, end = to + reach >= plain.length ? plain.length : plain.lastIndexOf(" ", to + reach + (at ? 0 : reach));
  return [(begin > 0 ? "… " : "") + plain.slice(begin, from), plain.slice(from, to), plain.slice(to, Math.max(to, end)) + (end < plain.length ? " …" : "")];
}

// nearest is the manual's word that is written almost like one that it has not.
export function nearest(sections: Section[], word: string): string {
  let best = "", least = Math.floor(word.length / 4) + 1;
  const seen = new Set<string>();
  for (const { words } of sections) {
    for (const has of [...words.heading.keys(), ...words.body.keys()]) {
      if (seen.has(has)) continue;
      seen.add(has);
      if (fits(has, word)) return "";
      const d = apart(word, has);
      if (d < least) [best, least] = [has, d];
    }
  }
  return best;
}

// apart counts the letters to change, add or leave out between two words
// (Levenshtein's distance, 1966).
function apart(a: string, b: string): number {
  const row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 0; i < a.length; i++) {
    let before = row[0]!;
    row[0] = i + 1;
    for (let j = 0; j < b.length; j++) {
      const cost = before + (a[i] === b[j] ? 0 : 1);
      before = row[j + 1]!;
      row[j + 1] = Math.min(cost, before + 1, row[j]! + 1);
    }
  }
  return row[b.length]!;
}
