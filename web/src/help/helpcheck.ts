import { about } from "./about";
import { everything, type Piece, piecesOf } from "./pages";
import { nearest, search, sectionsOf } from "./search";

// Run by a test in node: what the pages read out of the manual, and find in it.

declare const process: { argv: string[] };

const kindsOf = (tokens: Piece[]): string[] => tokens.flatMap((t) => [
  t.type, ...("items" in t ? t.items.flatMap((i: Piece) => kindsOf([i])) : []), ...("rows" in t ? [...t.header, ...t.rows.flat()].flatMap((c: { tokens: Piece[] }) => kindsOf(c.tokens)) : []), ..."tokens" in t && t.tokens ? kindsOf(t.tokens) : [],
]);

const pages = await everything(), sections = sectionsOf(pages);
const { queries, words } = JSON.parse(process.argv[2]!) as { queries: string[]; words: string[] };
console.log(JSON.stringify({
  anchors: sections.map((s) => `${s.page}#${s.anchor}`),
  kinds: [...new Set(pages.flatMap((p) => kindsOf(piecesOf(p.text))))],
  found: queries.map((q) => { const list = search(sections, q); return { count: list.length, first: list[0] ? `${list[0].page}#${list[0].anchor}` : "", around: list[0]?.around ?? [] }; }),
  near: words.map((w) => nearest(sections, w)),
  about,
}));
