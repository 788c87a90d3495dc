import type { FieldError, Tree } from "../lib/types";
import { entryAt, lists } from "./fields";

// Typed is a form's content exactly as typed: a text for every entry, by its
// pointer, and rows for the lists. It is turned into settings only to be
// checked or stored, so that no keystroke is ever lost to a conversion.
export interface Typed { texts: Record<string, string>; rows: Record<string, Record<string, string>[]> }

export const nothing: Typed = { texts: {}, rows: {} };

export const isEmpty = (t: Typed): boolean =>
  Object.values(t.texts).every((v) => v.trim() === "") && Object.values(t.rows).every((r) => r.length === 0);

export const withText = (t: Typed, at: string, text: string): Typed => ({ ...t, texts: { ...t.texts, [at]: text } });

export const withRows = (t: Typed, at: string, rows: Record<string, string>[]): Typed => ({ ...t, rows: { ...t.rows, [at]: rows } });

// toSettings gives the settings and what cannot be sent at all.
export function toSettings(t: Typed): { settings: Tree; errors: FieldError[] } {
  const settings: Tree = { draw: {} }, errors: FieldError[] = [];
  for (const [at, text] of Object.entries(t.texts)) {
    if (text.trim() === "") continue;
    const value = valueOf(at, text.trim());
    if (value === undefined) errors.push({ field: at, code: "unreadable", message: `cannot read "${text.trim()}"`, hint: "write a plain number, like 2.5" });
    else place(settings, at.split("/").slice(1), value);
  }
  for (const { at } of lists) {
    const rows = (t.rows[at] ?? []).filter((r) => Object.values(r).some((v) => v.trim() !== ""));
    if (rows.length > 0) place(settings, at.split("/").slice(1), rows.map((r) => Object.fromEntries(Object.entries(r).filter(([, v]) => v.trim() !== ""))));
  }
  return { settings, errors };
}

function valueOf(at: string, text: string): unknown {
  const entry = entryAt.get(at);
  if (entry?.kind === "toggle") return text === "true";
  if (entry?.kind !== "count") return text;
  return /^[+-]?\d+([.,]\d+)?$/.test(text) ? Number(text.replace(",", ".")) : undefined;
}

function place(tree: Tree, path: string[], value: unknown): void {
  const [name, ...rest] = path as [string, ...string[]];
  if (rest.length === 0) {
    tree[name] = value;
    return;
  }
  const below = typeof tree[name] === "object" ? (tree[name] as Tree) : {};
  tree[name] = below;
  place(below, rest, value);
}

// fromSettings fills a form from settings, a stored set-up's or a bow file's.
// Entries that no form knows are named, not dropped in silence.
export function fromSettings(settings: Tree, comma = false): { typed: Typed; unknown: string[] } {
  const typed: Typed = { texts: {}, rows: {} }, unknown: string[] = [];
  const walk = (node: unknown, at: string): void => {
    if (node === null || node === undefined) return;
    const list = lists.find((l) => l.at === at);
    if (list && Array.isArray(node)) {
      typed.rows[at] = node.map((row) => Object.fromEntries(list.columns.map((c) => [c.name, text((row as Tree)?.[c.name], comma)])));
    } else if (typeof node === "object" && !Array.isArray(node) && !entryAt.has(at)) {
      for (const [name, below] of Object.entries(node)) walk(below, `${at}/${name}`);
    } else if (entryAt.has(at)) {
      typed.texts[at] = text(node, comma);
    } else if (at !== "/arrow/id") {
      unknown.push(at);
    }
  };
  walk(settings, "");
  return { typed, unknown };
}

function text(v: unknown, comma: boolean): string {
  if (v === null || v === undefined) return "";
  if (typeof v === "number" && comma) return String(v).replace(".", ",");
  return String(v);
}

// kept carries over what a set-up holds beside the form: which stored arrow it
// shoots. A change must not lose it.
export function kept(settings: Tree, before: Tree | undefined): Tree {
  const arrow = before?.arrow as Tree | undefined;
  if (arrow?.id) place(settings, ["arrow", "id"], arrow.id);
  return settings;
}
