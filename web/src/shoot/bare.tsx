import { useFaceLength } from "../group/words";
import type { Effect, Verdict } from "./api";

// BarePicture shows where each bare shaft hit against the fletched arrows,
// seen from the shooting line, and the box that holds the truth 19 times in 20.
export function BarePicture({ v }: { v: Verdict }) {
  const length = useFaceLength();
  const one = (name: string) => v.effects.find((e) => e.name === name);
  const right = one("bare_minus_fletched_right"), up = one("bare_minus_fletched_up");
  if (right?.value == null || up?.value == null) return null;
  const shafts = pairs(v.effects);
  const reach = 1.25 * Math.max(0.01, ...[right, up].flatMap((e) => [e.value, e.low, e.high]).concat(shafts.flatMap((s) => [s.x, s.y])).filter((n): n is number => n !== null).map(Math.abs));
  const x = (m: number) => 180 + (160 * m) / reach, y = (m: number) => 180 - (160 * m) / reach;
  const box = right.low !== null && right.high !== null && up.low !== null && up.high !== null;
  return (
    <section class="card" aria-label="Where the bare shafts hit">
      <h2>Bare shafts against fletched arrows</h2>
      <svg class="scale" viewBox="0 0 360 380" role="img" aria-label={`Bare less fletched: ${right.label}: ${right.text}; ${up.label}: ${up.text}.`}>
        <line x1="10" x2="350" y1="180" y2="180" stroke="var(--ink)" stroke-width="2" stroke-dasharray="6 5" />
        <line x1="180" x2="180" y1="10" y2="350" stroke="var(--ink)" stroke-width="2" stroke-dasharray="6 5" />
        {box && <rect x={x(right.low!)} y={y(up.high!)} width={x(right.high!) - x(right.low!)} height={y(up.low!) - y(up.high!)} fill="none" stroke="var(--ink)" stroke-width="4" />}
        {shafts.map((s) => <rect key={s.name} x={x(s.x) - 6} y={y(s.y) - 6} width="12" height="12" fill="var(--card)" stroke="var(--ink)" stroke-width="3" />)}
        {named(shafts.map((s) => ({ name: s.name, x: x(s.x), y: y(s.y) }))).map((n) => (
          <g key={n.name}><line x1={n.x} y1={n.y} x2={n.side + (n.side < n.x ? 12 : -12)} y2={n.at} stroke="var(--ink)" stroke-width="1" /><text x={n.side} y={n.at + 6} text-anchor="middle">{n.name}</text></g>
        ))}
        <circle cx={x(right.value)} cy={y(up.value)} r="6" fill="var(--ink)" />
        <text x="186" y="24">high</text>
        <text x="350" y="172" text-anchor="end">right</text>
        <text x="180" y="374" text-anchor="middle">edge to edge {length(2 * reach * (180 / 160))}</text>
      </svg>
      <p class="doubt">The dashed lines meet where the fletched arrows hit. Squares: each numbered bare shaft. Disc: their mean. {box ? "Box: 95 % interval over shafts, the mass effect taken off; where it holds a dashed line, that side cannot be told." : "No interval yet: it takes three shafts."}</p>
    </section>
  );
}

// named gives every number a place beside its square, clear of the others: to
// the outside, one below the other.
function named(list: { name: string; x: number; y: number }[]) {
  const left = list.reduce((n, s) => n + s.x, 0) < 180 * list.length;
  const side = left ? Math.min(...list.map((s) => s.x)) - 40 : Math.max(...list.map((s) => s.x)) + 40;
  let last = -Infinity;
  return [...list].sort((a, b) => a.y - b.y).map((s) => ({ ...s, side: Math.max(12, Math.min(348, side)), at: (last = Math.max(s.y - 20, last + 22)) }));
}

// pairs puts each shaft's two sides together; they stand one after the other.
function pairs(list: Effect[]): { name: string; x: number; y: number }[] {
  return list.flatMap((e, k) => {
    const next = list[k + 1];
    if (e.name !== "shaft_right" || next?.name !== "shaft_up" || e.value === null || next.value === null) return [];
    return [{ name: /shaft (\S+?),/.exec(e.label)?.[1] ?? "", x: e.value, y: next.value }];
  });
}
