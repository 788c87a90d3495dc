import { countOf } from "../trial/words";
import type { Ask, What } from "./types";

// Form is what a person decides of a trial, as typed, with the id that the
// trial will have: a plan begun twice by a double tap is one trial.
export interface Form {
  id: string; what: What; setting: string; a: string; b: string; levels: [string, string, string]; settings: { setting: string; low: string; high: string }[];
  faceCentred: boolean; rounds: string; arrows: string; shafts: string; taped: boolean; bareLow?: boolean; distance: string; distances: string; seed: number;
}

export const unasked: Omit<Form, "id" | "seed"> = {
  what: "two set-ups", setting: "button", a: "", b: "", levels: ["", "", ""], settings: [{ setting: "button", low: "", high: "" }, { setting: "nocking_point", low: "", high: "" }],
  faceCentred: false, rounds: "", arrows: "", shafts: "3", taped: false, distance: "", distances: "10 m, 15 m, 20 m, 25 m, 30 m",
};

// Info says of each kind what it answers, in the words of its card.
export const infos: { what: What; name: string; asks: string; rounds?: string; arrows: string }[] = [
  { what: "two set-ups", name: "Two set-ups", asks: "Which of two is tighter? End by end, order by coin; settings that are slow to change in A-B-B-A visits.", rounds: "Pairs of ends, or rounds of four visits", arrows: "Arrows an end" },
  { what: "bare shaft", name: "Bare shaft", asks: "Does the arrow leave straight? At least three numbered bare shafts beside fletched arrows.", rounds: "Ends", arrows: "Fletched arrows an end" },
  { what: "nocking point by bare shaft", name: "Nocking point by bare shaft", asks: "High or low: how far to move the nocking point? Two readings 2 mm apart, with powder on the tail.", rounds: "Ends at each nocking point", arrows: "Fletched arrows an end" },
  { what: "tiller by hold and group", name: "Tiller by hold and group", asks: "At which tiller does the bow hold steadiest, and group? Three tillers in random blocks; bare shafts have no part in it.", rounds: "Blocks", arrows: "Arrows an end" },
  { what: "walk-back", name: "Walk-back", asks: "Do the arrows drift sideways with distance? One mark, one sight, several distances.", arrows: "Arrows at each distance" },
  { what: "one setting", name: "One setting, three levels", asks: "Where between two ends is the group tightest? Three levels, wide apart, in random blocks.", rounds: "Blocks", arrows: "Arrows an end" },
  { what: "settings", name: "Two or three settings at once", asks: "Which way is better, and do they depend on each other? Low, high and the middle of each.", arrows: "Arrows an end" },
  { what: "confirm", name: "Confirm", asks: "Is the new best really better than what was? One pair against the old.", rounds: "Pairs of ends, or rounds of four visits", arrows: "Arrows an end" },
  { what: "sham", name: "Sham", asks: "What is your feel worth? A helper changes the setting, or does not.", rounds: "Pairs", arrows: "Arrows each time" },
];

// settingNames are the settings whose cost of change is known.
export const settingNames: [string, string][] = [
  ["button", "button"], ["rest_height", "rest height"], ["centre_shot", "centre shot"], ["nocking_point", "nocking point"], ["brace_height", "brace height"], ["tiller", "tiller"],
];

export type Name = "rounds" | "arrows" | "shafts";

// askOf gives the wish as the API takes it, and the fields that cannot be read.
export function askOf(f: Form): { ask: Ask; bad: Map<Name, string> } {
  const ask: Ask = { what: f.what, seed: f.seed }, bad = new Map<Name, string>();
  const count = (name: Name, into: "rounds" | "arrows" | "bare_shafts") => {
    if (f[name].trim() === "") return;
    const n = countOf(f[name]);
    if (Number.isInteger(n) && n > 0) ask[into] = n;
    else bad.set(name, "Write a whole number, like 6.");
  };
  count("arrows", "arrows");
  if (f.what !== "walk-back" && f.what !== "settings") count("rounds", "rounds");
  if (f.distance.trim() && f.what !== "walk-back") ask.distance = f.distance.trim();
  switch (f.what) {
    case "two set-ups": case "confirm": case "sham":
      Object.assign(ask, { setting: f.setting, ...(f.a.trim() && { a: f.a.trim() }), ...(f.b.trim() && { b: f.b.trim() }) });
      break;
    case "one setting":
      Object.assign(ask, { setting: f.setting, levels: f.levels.map((l) => l.trim()) });
      break;
    case "settings":
      Object.assign(ask, { settings: f.settings.map((s) => ({ ...s, low: s.low.trim(), high: s.high.trim() })), face_centred: f.faceCentred });
      break;
    case "bare shaft":
      count("shafts", "bare_shafts");
      ask.taped = f.taped;
      break;
    case "nocking point by bare shaft":
      count("shafts", "bare_shafts");
      Object.assign(ask, { taped: f.taped, ...(f.bareLow && { bare_low: true }) });
      break;
    case "walk-back":
      ask.distances = f.distances.split(/[;,](?!\d)|\n/).map((d) => d.trim()).filter(Boolean);
      break;
  }
  return { ask, bad };
}

// complete tells whether enough is typed to plan at all.
export function complete(f: Form): boolean {
  if (f.what === "one setting") return f.levels.every((l) => l.trim() !== "");
  if (f.what === "settings") return f.settings.every((s) => s.low.trim() !== "" && s.high.trim() !== "");
  return true;
}
