import type { Doubted } from "../lib/types";
import type { AtDistance, Hand, Telling } from "./types";

// The side is said in words, right as seen from the shooting line for every
// archer; only stiff and weak, outward and inward are the hand's.

const bare = (text: string) => text.replace(/^[+\-−]/, "");

// side says where a place is: "4.5 cm right".
export function side(d: Doubted, right = "right", left = "left"): string {
  if (d.si === null) return "–";
  return isNought(d.text) ? "no way aside" : `${bare(d.text)} ${d.si > 0 ? right : left}`;
}

// isNought tells a text that rounds to nothing.
export const isNought = (text: string): boolean => !/[1-9]/.test(text);

// reach is the doubt with its sides: "2.1 cm left to 7.4 cm right".
export function reach(d: Doubted, right = "right", left = "left"): string {
  if (d.low === null || d.high === null || !d.doubt.includes(" to ")) return d.doubt;
  const [a, b] = d.doubt.split(" to ") as [string, string];
  const unit = /[a-z"°]+$/i.exec(b)?.[0] ?? "";
  const one = (text: string, v: number) => (isNought(text) ? "0" : `${bare(/[a-z"]$/i.test(text) ? text : `${text} ${unit}`)} ${v > 0 ? right : left}`);
  return `${one(a, d.low)} to ${one(b, d.high)}`;
}

export const moved = (at: AtDistance): boolean => !isNought(at.right.change.text) || !isNought(at.up.change.text);

// landed says where a change takes the fletched arrows; short is the way alone.
export function landed(at: AtDistance, short = false): string {
  const parts = [[at.right.change, "right", "left"], [at.up.change, "up", "down"]] as const;
  const said = parts.filter(([d]) => !isNought(d.text)).map(([d, a, b]) => side(d, a, b));
  if (short) return said.join(", ");
  return said.length === 0 ? "the fletched arrows stay where they are" : `the fletched arrows move ${said.join(" and ")}`;
}

// readsAs puts a bare shaft's reading into words; nothing is said of stiff and
// weak outside the window.
export function readsAs(t: Telling, hand: Hand): string {
  if (t.bare_shaft_reads === "cannot tell") return "";
  return `For a ${hand}-handed archer that is how a ${t.bare_shaft_reads} shaft reads.`;
}
