// changeLink opens the change form of a bow with entries filled in: keys as
// the notebook names them, texts as typed.
const picks: [RegExp, string][] = [
  [/^brace_height/, "brace"], [/^nocking_point/, "nocking"], [/^(tiller|riser\.bolts)/, "tiller"], [/^button/, "button"], [/^centre_shot/, "centre"],
  [/^rest/, "rest"], [/^string/, "string"], [/^arrow/, "arrow"], [/^(draw|clicker)/, "draw"], [/^limbs/, "range"],
];

export function changeLink(bow: string, set: Record<string, string>): string {
  const query = new URLSearchParams();
  for (const [key, text] of Object.entries(set)) {
    const pick = picks.find(([shape]) => shape.test(key))?.[1];
    if (pick) query.append("pick", pick);
    query.append(`/${key.replaceAll(".", "/")}`, text);
  }
  return `/bows/${bow}/change?${query}`;
}
