import { useMe } from "../lib/me";
import { number } from "../lib/words";
import type { Compared } from "./types";

// Clearance draws the gap between the shaft's tail and the button in
// millimetres, before and after, with its doubt.

const W = 300, left = 14, right = 14;

export function Clearance({ of, changed, least }: { of: Compared; changed: boolean; least: number }) {
  const person = useMe().me?.person, comma = person?.decimal_comma ?? false, inches = person?.units === "imperial";
  const [unit, digits, per] = inches ? ["in", 2, 0.0254] as const : ["mm", 0, 0.001] as const;
  const rows = changed ? [["as set up", of.now], ["after the change", of.after]] as const : [["as set up", of.now]] as const;
  const ends = rows.flatMap(([, d]) => [d.si, d.low, d.high].filter((v): v is number => v !== null));
  const most = Math.max(0.005, ...ends) * 1.05, low = Math.min(-0.001, ...ends.map((v) => v * 1.05));
  const x = (m: number) => left + ((m - low) / (most - low)) * (W - left - right);
  const rough = (most - low) / per / 6, ten = 10 ** Math.floor(Math.log10(rough));
  const step = per * ([1, 2, 5, 10].map((k) => k * ten).find((k) => k >= rough) ?? 10 * ten);
  const ticks: number[] = [];
  for (let k = Math.ceil(low / step); k * step <= most; k++) ticks.push(k * step);
  const H = 26 + 34 * rows.length + 26;
  return (
    <figure class="clearance">
      <svg viewBox={`0 0 ${W} ${H}`} role="img" aria-label={rows.map(([what, d]) => `${what}: the tail passes the button by ${d.text}, ${d.doubt}`).join("; ")}>
        <rect class="touch" x={x(low)} y="4" width={Math.max(0, x(0) - x(low))} height={H - 30} />
        <rect class="close" x={x(0)} y="4" width={x(least) - x(0)} height={H - 30} />
        <path class="edge" d={`M${x(0)} 4V${H - 26}`} />
        <text class="small" x={x(0) + 4} y="16">button</text>
        {rows.map(([what, d], i) => (
          <g key={what} class={i === rows.length - 1 ? "gap" : "gap faint"}>
            {d.low !== null && d.high !== null && <path class="whisker" d={`M${x(d.low)} ${44 + 34 * i}H${x(d.high)}m0 -5v10M${x(d.low)} ${39 + 34 * i}v10`} />}
            {d.si !== null && <circle cx={x(d.si)} cy={44 + 34 * i} r="6" />}
            <text x={W - right} y={34 + 34 * i} text-anchor="end">{what}: {d.text}</text>
          </g>
        ))}
        {ticks.map((t) => <g key={t}><path class="tick" d={`M${x(t)} ${H - 26}v5`} /><text class="small" x={x(t)} y={H - 8} text-anchor="middle">{number(t / per, digits, comma)}</text></g>)}
      </svg>
      <figcaption class="doubt">Gap between the shaft's tail and the button, {unit}. Shaded: touching, and closer than {number(least / per, digits + 1, comma)} {unit}, where a bare shaft tells nothing.</figcaption>
    </figure>
  );
}
