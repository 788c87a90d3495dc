import type { Doubted, SetUpView } from "../lib/types";
import { number } from "../lib/words";

// turns says what to do with the string: "add 3 turns".
export function turns(n: number): string {
  if (n === 0) return "leave the string as it is";
  const many = Math.abs(n) === 1 ? "1 turn" : `${plain(Math.abs(n))} turns`;
  return n > 0 ? `add ${many}` : `take out ${many}`;
}

// counted says what was done: "3 turns added".
export function counted(n: number): string {
  if (n === 0) return "no turns changed";
  const many = Math.abs(n) === 1 ? "1 turn" : `${plain(Math.abs(n))} turns`;
  return n > 0 ? `${many} added` : `${many} taken out`;
}

const plain = (n: number) => String(Math.round(n * 100) / 100);

// signed writes a count with its sign, the minus as wide as the plus.
export const signed = (n: number): string => (n > 0 ? `+${plain(n)}` : n < 0 ? `−${plain(-n)}` : "0");

// named finds a quantity of a prediction.
export const named = (list: Doubted[], name: string): Doubted | undefined => list.find((d) => d.name === name);

// countOf reads a typed count; NaN when it is none.
export function countOf(text: string): number {
  const t = text.trim().replace(/^−/, "-").replace(",", ".");
  return /^[+-]?\d+(\.\d+)?$/.test(t) ? Number(t) : NaN;
}

// several splits "58,1; 58,3" into its readings.
export const several = (text: string): string[] => text.split(";").map((t) => t.trim()).filter((t) => t !== "");

// feels are the five taps for how a shot felt.
export const feels: [string, string][] = [["1", "harsh"], ["2", "rough"], ["3", "fair"], ["4", "good"], ["5", "sweet"]];

export function minutes(m: number): string {
  if (m < 60) return `about ${Math.round(m)} min`;
  const h = Math.floor(m / 60), rest = Math.round((m - 60 * h) / 5) * 5;
  return rest === 0 ? `about ${h} h` : `about ${h} h ${rest} min`;
}

// length writes metres in the unit this person reads settings in.
export function length(m: number, unit: string, comma: boolean): string {
  if (unit === "in") return `${number(m / 0.0254, 2, comma)} in`;
  if (unit === "cm") return `${number(m * 100, 1, comma)} cm`;
  return `${number(m * 1000, 0, comma)} mm`;
}

// behindOf is how much further from the string the button is than the pivot.
export const behindOf = (setup?: SetUpView): number => setup?.shown["/brace_height/button_behind_pivot"]?.si ?? 0;
