// Every entry of a set-up that the pages ask for: what it is called, how it is
// typed, and what the model takes when it is left empty.

export type Entry = {
  at: string; // JSON pointer into the settings
  label: string;
  help?: string;
  example?: string;
  empty?: string; // what is assumed when it is left empty
  required?: boolean;
} & (
  | { kind: "quantity"; quantity: string; field?: string }
  | { kind: "count" } // a plain number, like turns
  | { kind: "words"; lines?: number }
  | { kind: "choice"; options: [string, string][] }
  | { kind: "toggle" }
);

export interface Group { title: string; hint?: string; entries: Entry[] }

const drawFrom: [string, string][] = [
  ["standard", "grip's deepest point + 1.75 in"],
  ["pivot", "grip's deepest point (pivot)"],
  ["button", "button"],
];

// byHeart is what a person knows without opening the bow bag.
export const byHeart: Group[] = [
  { title: "The bow", entries: [
    { at: "/limbs/bow_length", kind: "quantity", quantity: "draw", label: "Bow length", help: "As printed on the limbs, with your riser: like 68 in.", example: "68 in", empty: "the usual length for your draw" },
    { at: "/limbs/range_low", kind: "quantity", quantity: "setting", field: "brace_height", label: "Limb maker's brace height, from", help: "From the limb's leaflet or label. The low end…", example: "21.5 cm" },
    { at: "/limbs/range_high", kind: "quantity", quantity: "setting", field: "brace_height", label: "Limb maker's brace height, to", help: "… and the high end.", example: "24 cm" },
    { at: "/brace_height/value", kind: "quantity", quantity: "setting", field: "brace_height", label: "Brace height now", help: "From the grip's deepest point to the string, square to it, after at least five shots.", example: "22.5 cm", empty: "the usual height for the bow length" },
  ] },
  { title: "Your draw", entries: [
    { at: "/draw/length", kind: "quantity", quantity: "draw", field: "draw_length", label: "Draw length", help: "At the clicker, like 28 1/2 in.", example: "28 1/2 in", required: true },
    { at: "/draw/from", kind: "choice", label: "That draw length is measured from", help: "Makers quote it from the grip's deepest point plus 1.75 in: the default.", options: drawFrom },
    { at: "/draw/weight", kind: "quantity", quantity: "force", field: "draw_weight", label: "Draw weight on the fingers", help: "At your own draw length, from a hand scale if you have one: hook it where it cannot slip, face clear of the string, let down slowly.", example: "38 lbf", required: true },
  ] },
  { title: "Your arrow", entries: [
    { at: "/arrow/mass", kind: "quantity", quantity: "mass", field: "arrow_mass", label: "Mass of one whole arrow", help: "Weighed with point, nock and fletching. Without it there is no forecast of speed; add it when you have been at a scale.", example: "330 gr" },
  ] },
];

// details is everything else, a section each.
export const details: Group[] = [
  { title: "String", hint: "Learnt from the first two stops of a trial where you do not know it.", entries: [
    { at: "/string/material", kind: "choice", label: "Material", options: [["", "not stated (HMPE assumed)"], ["hmpe", "HMPE, the usual"], ["lcp", "liquid-crystal polymer"], ["polyester", "polyester"]] },
    { at: "/string/strands", kind: "count", label: "Strands", example: "18", empty: "18" },
    { at: "/string/length", kind: "quantity", quantity: "draw", field: "string_length", label: "String length", help: "Loop to loop, unstrung, pulled straight, twisted as it is.", example: "65 1/4 in", empty: "the length that gives your brace height" },
    { at: "/string/twists", kind: "count", label: "Turns in it", help: "Only if you counted them from none.", example: "22", empty: "20 ± 6" },
    { at: "/string/mass", kind: "quantity", quantity: "mass", field: "string_mass", label: "String mass", help: "With its servings.", example: "6.9 g", empty: "from material, strands and length" },
    { at: "/string/nocking_mass", kind: "quantity", quantity: "mass", label: "Centre serving and locators", example: "1.2 g" },
    { at: "/string/serving", kind: "words", label: "Serving", example: "0.021, 16 cm" },
    { at: "/string/shots_on_it", kind: "count", label: "Shots on it", example: "1500" },
  ] },
  { title: "Riser", entries: [
    { at: "/riser/length", kind: "quantity", quantity: "draw", label: "Riser length", example: "25 in" },
    { at: "/riser/offset", kind: "quantity", quantity: "setting", label: "Pivot further back than usual", help: "How much further toward the line of the limb pockets the grip's deepest point lies than on most risers. Your square reads shorter by it; the maker's range is corrected for it.", example: "8 mm", empty: "0 mm" },
    { at: "/riser/mass", kind: "quantity", quantity: "mass", label: "Riser with stabilisers", help: "With sight and rods.", example: "2.7 kg", empty: "a usual riser" },
    { at: "/riser/pitch_inertia_kgm2", kind: "count", label: "Pitch inertia, kg m²", help: "Of riser, sight and rods about their balance point. It hardly matters to where arrows land.", example: "0.25", empty: "0.25" },
    { at: "/riser/balance_ahead", kind: "quantity", quantity: "setting", label: "Balance point ahead of the pivot", example: "12 cm", empty: "12 cm" },
    { at: "/riser/bolts_upper_turns", kind: "count", label: "Upper limb bolt, turns out", help: "From fully in.", example: "3" },
    { at: "/riser/bolts_lower_turns", kind: "count", label: "Lower limb bolt, turns out", example: "3" },
  ] },
  { title: "Limbs", entries: [
    { at: "/limbs/marked_weight", kind: "quantity", quantity: "force", field: "draw_weight", label: "Weight marked on the limbs", example: "36 lbf" },
    { at: "/limbs/marked_at", kind: "words", label: "How that mark is meant", example: "28 in, 25 in riser" },
  ] },
  { title: "How the brace height is measured", entries: [
    { at: "/brace_height/from", kind: "choice", label: "The square is held to", options: [["pivot", "grip's deepest point"], ["button", "button"]] },
    { at: "/brace_height/button_behind_pivot", kind: "quantity", quantity: "setting", label: "Button further from the string than the pivot", help: "Only for readings to the button; measure it once with the square.", example: "12 mm" },
  ] },
  { title: "Nocking point, tiller, centre shot, button and rest", entries: [
    { at: "/nocking_point/value", kind: "quantity", quantity: "setting", field: "nocking_point", label: "Nocking point", help: "With the square on the rest, to the lower edge of the upper locator.", example: "9 mm" },
    { at: "/nocking_point/of", kind: "words", label: "Read to another edge", help: "In words, if not the lower edge of the upper locator.", example: "upper locator, upper edge" },
    { at: "/tiller", kind: "quantity", quantity: "setting", field: "tiller", label: "Tiller", help: "String to limb at the pocket, upper minus lower.", example: "3 mm" },
    { at: "/centre_shot", kind: "quantity", quantity: "setting", field: "centre_shot", label: "Centre shot", help: "The shaft's axis at the button from the string plane. Outward, to the {outward} as you look along the arrow, is positive.", example: "1.5 mm" },
    { at: "/button/spring", kind: "words", label: "Button spring", example: "medium" },
    { at: "/button/turns", kind: "count", label: "Button, turns from the mark", example: "2.5" },
    { at: "/rest/name", kind: "words", label: "Rest", example: "wire rest" },
    { at: "/rest/height", kind: "quantity", quantity: "setting", label: "Rest above the pivot", example: "42 mm" },
    { at: "/rest/wire_reach", kind: "quantity", quantity: "setting", label: "Wire past the shaft's centre", help: "Looking down on the shaft against the button. It decides whether a low bare shaft can be believed.", example: "1 mm", empty: "2 mm" },
    { at: "/rest/powder_mark", kind: "choice", label: "Powder check", help: "Powder or lipstick on the shaft's tail and the wire, one shot, then look.", options: [["", "not looked yet"], ["clean", "clean: nothing touched"], ["marked", "marked: the tail touched the wire"]] },
    { at: "/hook_below", kind: "quantity", quantity: "setting", label: "Fingers' pull below the nocking point", help: "Middle of the pull, along the string.", example: "6 mm", empty: "7 mm" },
    { at: "/pressure_point", kind: "quantity", quantity: "setting", label: "Hand's pressure point above the pivot", help: "Below the pivot is negative: a low wrist.", example: "-3 mm", empty: "0 mm" },
  ] },
  { title: "Arrow, in full", entries: [
    { at: "/arrow/name", kind: "words", label: "What you call it", example: "long outdoor" },
    { at: "/arrow/minimum_mass", kind: "quantity", quantity: "mass", field: "arrow_mass", label: "Bow maker's least arrow mass", help: "Lighter arrows can break the bow.", example: "280 gr" },
    { at: "/arrow/spine", kind: "quantity", quantity: "spine", field: "static_spine", label: "Static spine", help: "As marked on the shaft.", example: "600" },
    { at: "/arrow/shaft_length", kind: "quantity", quantity: "draw", field: "arrow_length", label: "Shaft length", help: "Without nock and point.", example: "28 1/2 in" },
    { at: "/arrow/point_mass", kind: "quantity", quantity: "mass", field: "point_mass", label: "Point mass", help: "With its insert.", example: "110 gr" },
    { at: "/arrow/nock_mass", kind: "quantity", quantity: "mass", label: "Nock mass", example: "8 gr" },
    { at: "/arrow/fletching_mass", kind: "quantity", quantity: "mass", label: "Fletching mass", example: "6 gr" },
    { at: "/arrow/diameter", kind: "quantity", quantity: "setting", label: "Shaft diameter", example: "5.5 mm" },
    { at: "/arrow/count", kind: "count", label: "How many you have", example: "12" },
  ] },
  { title: "Clicker, sight, tab and barebow", entries: [
    { at: "/clicker", kind: "quantity", quantity: "draw", label: "Clicker", help: "Grip's deepest point to the clicker's edge.", example: "70 cm" },
    { at: "/sight_extension", kind: "quantity", quantity: "setting", label: "Sight extension", help: "Riser to sight pin.", example: "23 cm" },
    { at: "/nock_fit", kind: "words", label: "Nock fit", example: "holds, falls off with a tap" },
    { at: "/tab", kind: "words", label: "Tab or glove", example: "tab, one spacer" },
    { at: "/string_walking", kind: "toggle", label: "I walk the string (crawl)" },
    { at: "/crawl", kind: "quantity", quantity: "setting", label: "Crawl", help: "Fingers below the nock at your usual distance.", example: "35 mm" },
  ] },
  { title: "Notes", entries: [{ at: "/notes", kind: "words", lines: 4, label: "Anything else about this set-up" }] },
];

export const groups: Group[] = [...byHeart, ...details];
export const entries: Entry[] = groups.flatMap((g) => g.entries);
export const entryAt = new Map(entries.map((e) => [e.at, e]));

// Lists are typed row by row: readings of the draw–force curve, and rods.
export interface ListEntry { at: string; title: string; help: string; row: string; columns: { name: string; label: string; quantity?: string; example: string }[] }

export const lists: ListEntry[] = [
  { at: "/draw/points", title: "Draw–force points", row: "point", help: "Three to eight readings of a scale on the way to full draw, measured from the same place as your draw length. Never past your own draw length; let down slowly.",
    columns: [{ name: "at", label: "Draw", quantity: "draw", example: "20 in" }, { name: "force", label: "Force", quantity: "force", example: "22.5 lbf" }] },
  { at: "/riser/rods", title: "Stabilisers", row: "rod", help: "One row a rod.",
    columns: [{ name: "place", label: "Which", example: "long" }, { name: "length", label: "Length", quantity: "draw", example: "30 in" }, { name: "mass", label: "Mass", quantity: "mass", example: "300 g" }] },
];

// labelOf names an entry of a difference, whose key is written with dots.
export function labelOf(key: string): string {
  const at = "/" + key.replaceAll(".", "/");
  return entryAt.get(at)?.label ?? lists.find((l) => l.at === at)?.title ?? key.replaceAll("_", " ").replaceAll(".", ": ");
}

// wordFor gives a choice in its words: "button" is "the button".
export function wordFor(key: string, value: string): string {
  const entry = entryAt.get("/" + key.replaceAll(".", "/"));
  if (value === "") return "not entered";
  if (entry?.kind === "choice") return entry.options.find(([v]) => v === value)?.[1] ?? value;
  if (entry?.kind === "toggle") return value === "true" ? "yes" : "no";
  return value;
}
