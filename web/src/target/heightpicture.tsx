import { useMe } from "../lib/me";
import type { Doubted } from "../lib/types";
import { number } from "../lib/words";
import { reach, side } from "./words";

// What the bow and the target show from the side: the shaft's tail over the
// rest's wire, and the bare shaft against the fletched ones. Lengths have a
// scale; the shaft itself is only a sign.

const W = 300;

function useScale(): { inches: boolean; comma: boolean } {
  const person = useMe().me?.person;
  return { inches: person?.units === "imperial", comma: person?.decimal_comma ?? false };
}

// ticksTo are round steps of a unit between two lengths, about n of them.
function ticksTo(low: number, high: number, per: number, n: number): number[] {
  const rough = (high - low) / per / n, ten = 10 ** Math.floor(Math.log10(rough));
  const step = per * ([1, 2, 5, 10].map((k) => k * ten).find((k) => k >= rough) ?? 10 * ten);
  const out: number[] = [];
  for (let k = Math.ceil(low / step); k * step <= high; k++) out.push(k * step);
  return out;
}

export function TailOverRest({ gap, least, leastText }: { gap: Doubted; least: number; leastText: string }) {
  const { inches, comma } = useScale();
  const [unit, digits, per] = inches ? ["in", 2, 0.0254] as const : ["mm", 0, 0.001] as const;
  const cap = (v: number | null) => Math.max(-0.002, Math.min(0.012, v ?? 0));
  const high = Math.max(0.004, cap(gap.high) + 0.001), low = -0.002;
  const H = 170, bottom = 140;
  const y = (m: number) => bottom - ((m - low) / (high - low)) * (bottom - 24);
  const shaft = y(cap(gap.si));
  return (
    <figure class="clearance">
      <svg viewBox={`0 0 ${W} ${H}`} role="img" aria-label={`Seen from the side, the shaft's tail passes over the rest's wire by ${gap.text}, ${gap.doubt}`}>
        <rect class="close" x="46" y={y(least)} width={W - 46} height={y(0) - y(least)} />
        <rect class="touch" x="46" y={y(0)} width={W - 46} height={bottom - y(0)} />
        <path class="edge" d={`M46 10V${bottom}`} />
        {ticksTo(low, high, per, 6).map((t) => <g key={t}><path class="tick" d={`M41 ${y(t)}h5`} /><text class="small" x="37" y={y(t) + 4} text-anchor="end">{number(t / per, digits, comma)}</text></g>)}
        <path class="shaft" d={`M70 ${shaft}H${W - 6}`} />
        <path class="vane" d={`M84 ${shaft}l12 -12h22l4 12z`} />
        <path class="edge" d={`M178 ${y(0)}h22`} />
        <text class="small" x="172" y={y(0) + 17} text-anchor="middle">rest's wire</text>
        <g class="gap">
          {gap.low !== null && gap.high !== null && <path class="whisker" d={`M189 ${y(cap(gap.low))}V${y(cap(gap.high))}m-5 0h10M184 ${y(cap(gap.low))}h10`} />}
          {gap.si !== null && <circle cx="189" cy={shaft} r="6" />}
        </g>
        <text x={W - 6} y={shaft - 10} text-anchor="end">{gap.text}</text>
        <text class="small" x="46" y={H - 8}>{unit} of the tail over the wire</text>
      </svg>
      <figcaption class="doubt">The tail as it passes, from the side; the line is the span of 90 % of the plausible set-ups. Shaded: touching, and closer than {leastText}, where a bare shaft's height tells nothing.</figcaption>
    </figure>
  );
}

export interface Read { at: number; up: number; text: string }

export function BareAgainst({ near, far, read }: { near: Doubted; far: Doubted; read: Read[] }) {
  const { inches, comma } = useScale();
  const [unit, digits, per] = inches ? ["in", 0, 0.0254] as const : ["cm", 0, 0.01] as const;
  const ends = [near, far].flatMap((d) => [d.si, d.low, d.high]).filter((v): v is number => v !== null).concat(read.map((r) => r.up));
  const half = Math.max(0.05, ...ends.map(Math.abs)) * 1.1;
  const H = 200, y = (m: number) => 100 - (m / half) * 80;
  const columns = [["18 m", near, 110, 18], ["30 m", far, 215, 30]] as const;
  return (
    <figure class="clearance">
      <svg viewBox={`0 0 ${W} ${H}`} role="img" aria-label={columns.map(([at, d]) => `At ${at} the bare shaft lands ${height(d)} of the fletched ones, ${reach(d, "high", "low")}`).join("; ")}>
        <path class="edge" d={`M46 100H${W - 8}`} />
        {ticksTo(-half, half, per, 6).map((t) => <g key={t}><path class="tick" d={`M41 ${y(t)}h5`} /><text class="small" x="37" y={y(t) + 4} text-anchor="end">{number(t / per, digits, comma)}</text></g>)}
        {columns.map(([at, d, x, metres]) => (
          <g key={at} class="gap">
            <g class="three"><circle cx={x - 30} cy="96" r="4" /><circle cx={x - 24} cy="105" r="4" /><circle cx={x - 35} cy="106" r="4" /></g>
            {d.low !== null && d.high !== null && <path class="whisker" d={`M${x} ${y(d.low)}V${y(d.high)}m-5 0h10M${x - 5} ${y(d.low)}h10`} />}
            {d.si !== null && <circle cx={x} cy={y(d.si)} r="6" />}
            {read.filter((r) => r.at === metres).map((r, i) => <path key={i} class="seen" d={`M${x + 18} ${y(r.up)}m-6 0l6 -6l6 6l-6 6z`} />)}
            <text x={x} y={H - 6} text-anchor="middle">{at}</text>
          </g>
        ))}
        <text class="small" x="46" y="14">{unit}, high is up</text>
      </svg>
      <figcaption class="doubt">Three fletched arrows in the middle; the dot is the modelled bare shaft with the span of 90 % of the plausible set-ups{read.length > 0 ? ", the diamond what you read" : ""}. Nobody measured your hook or your rest: trust what a change does, not this place.</figcaption>
    </figure>
  );
}

// height says where a bare shaft lands: "6.2 cm low".
export const height = (d: Doubted): string => side(d, "high", "low").replace("no way aside", "level");
