import type { Face, Impact } from "../group/types";

// readArrows reads an end as it stands on a pencil card: tokens with spaces
// between, each a ring ("9", "X", "M") or a place right/up of the middle
// ("3/-2", in cm or inches), with the shaft's number before a colon where it is
// not its turn in the row. Of a bare-shaft end the last ones are bare.
export function readArrows(text: string, most: number, bare: number, face: Pick<Face, "zones" | "name">, inch: boolean): { impacts: Impact[]; wrong?: string } {
  const tokens = text.trim().split(/\s+/).filter(Boolean);
  if (tokens.length === 0) return { impacts: [] };
  if (bare > 0 && tokens.length !== most) return { impacts: [], wrong: `${tokens.length} of ${most} arrows: write them all, the ${bare} bare shafts last.` };
  if (tokens.length > Math.max(most, 12)) return { impacts: [], wrong: `${tokens.length} arrows are more than the ${most} of this stop.` };
  const impacts: Impact[] = [];
  for (const [i, token] of tokens.entries()) {
    const [number, rest] = token.includes(":") ? [token.slice(0, token.indexOf(":")), token.slice(token.indexOf(":") + 1)] : [String(i + 1), token];
    const one = place(rest, inch) ?? ring(rest, face);
    if (!one) return { impacts: [], wrong: `“${token}” is neither a ring of the face ${face.name} nor a place like 3/-2.` };
    impacts.push({ arrow: number, ...one, ...(bare > 0 && i >= most - bare && { bare: true }) });
  }
  return { impacts };
}

function ring(text: string, face: Pick<Face, "zones">): Impact | undefined {
  const label = text.toUpperCase() === "0" ? "M" : text.toUpperCase();
  return label === "M" && face.zones.length > 0 || face.zones.some((z) => z.label === label) ? { ring: label } : undefined;
}

const far = 3; // m; the notebook takes no place farther out

function place(text: string, inch: boolean): Impact | undefined {
  const m = /^([+\-−]?\d+(?:[.,]\d+)?)\/([+\-−]?\d+(?:[.,]\d+)?)$/.exec(text);
  if (!m) return undefined;
  const metres = (s: string) => (Number(s.replace(",", ".").replace("−", "-")) * (inch ? 2.54 : 1)) / 100;
  const x = metres(m[1]!), y = metres(m[2]!);
  return Math.hypot(x, y) > far ? undefined : { x_m: Math.round(x * 1e5) / 1e5, y_m: Math.round(y * 1e5) / 1e5 };
}
