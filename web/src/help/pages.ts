import { lexer, type Token, type Tokens } from "marked";
import contents from "manual:contents";

// Page is one page of the manual; its text is Markdown.
export interface Page { name: string; title: string; group: string; part: string; text: string }

// all are the pages without their text, in the order of the contents.
export const all: Page[] = contents;

const parts: Record<string, () => Promise<{ default: Page[] }>> = {
  manual: () => import("manual:manual"), why: () => import("manual:why"), programs: () => import("manual:programs"),
};

// partOf loads the pages of one part; the service worker keeps each.
export const partOf = (part: string): Promise<Page[]> => parts[part]!().then((m) => m.default);
export const everything = (): Promise<Page[]> => Promise.all(Object.keys(parts).map(partOf)).then((lists) => lists.flat());

// Piece is a token of a page; a heading knows its address.
export type Piece = Token & { anchor?: string };

// piecesOf reads a page, and gives its headings the addresses that the
// terminal gives them (docs/sections.go).
export function piecesOf(text: string): Piece[] {
  const seen = new Map<string, number>();
  return lexer(text).map((t): Piece => {
    if (t.type !== "heading") return t;
    const made = wordsOf([t]).toLowerCase().replace(/ /g, "-").replace(/[^\p{L}\p{N}_-]/gu, ""), n = seen.get(made) ?? 0;
    seen.set(made, n + 1);
    return { ...t, anchor: n ? `${made}-${n}` : made };
  });
}

// wordsOf is what a reader sees of some tokens, without the marks.
export function wordsOf(tokens: Token[]): string {
  return tokens.map((t) => {
    if (t.type === "table") return [t.header, ...t.rows].map((row) => (row as Tokens.TableCell[]).map((c) => wordsOf(c.tokens)).join(" ")).join(" ");
    if (t.type === "list") return (t as Tokens.List).items.map((i) => wordsOf(i.tokens)).join(" ");
    if (t.type === "space" || t.type === "br") return " ";
    const inside = "tokens" in t && t.tokens ? wordsOf(t.tokens) : "text" in t ? (t.text as string) : "";
    return t.type === "paragraph" || t.type === "code" || t.type === "blockquote" ? `${inside} ` : inside;
  }).join("").replace(/\s+/g, " ");
}
