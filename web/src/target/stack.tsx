import { useId, useState } from "preact/hooks";
import { capital, number } from "../lib/words";
import type { Axis, Figure, Series } from "../ui/chart";

// Stack draws bands on top of each other: each series is the top of its band
// and its low the floor. Bands are told apart by their pattern and their name,
// not by colour alone; the arrow keys read them out.

const W = 400, H = 270, left = 56, right = 12, top = 20, bottom = 46;

export function Stack({ figure: f, comma }: { figure: Figure; comma: boolean }) {
  const id = useId();
  const xs = known(f.series[0]?.x ?? []), tops = f.series.flatMap((s) => known(s.y));
  const [at, setAt] = useState<number | null>(null);
  if (xs.length < 2 || tops.length === 0) return <p>{f.finding}</p>;
  const low = Math.min(...xs), high = Math.max(...xs), most = Math.max(...tops) * 1.04;
  const x = (v: number) => left + ((v - low) / (high - low)) * (W - left - right), y = (v: number) => H - bottom - (v / most) * (H - top - bottom);
  const step = (by: number) => setAt((n) => Math.min(xs.length - 1, Math.max(0, (n ?? (by > 0 ? -1 : xs.length)) + by)));
  return (
    <figure class="stack" aria-labelledby={id}>
      <h3 id={id}>{capital(f.title)}</h3>
      <svg viewBox={`0 0 ${W} ${H}`} tabIndex={0} role="img" aria-label={`${f.title}. Left and right arrow keys read the values out.`}
        onKeyDown={(e) => { if (e.key === "ArrowRight") step(1); else if (e.key === "ArrowLeft") step(-1); else return; e.preventDefault(); }}
        onPointerDown={(e) => { const box = e.currentTarget.getBoundingClientRect(); setAt(nearest(xs.map(x), ((e.clientX - box.left) / box.width) * W)); }}>
        <Patterns id={id} n={f.series.length} />
        {f.series.map((s, i) => <polygon key={s.name} class={`band line-${(i % 6) + 1}`} points={area(s, x, y)} fill={`url(#${id}p${i})`} />)}
        {ticks(0, most).map((t) => <g key={t}><path class="tick" d={`M${left - 5} ${y(t)}h5`} /><text x={left - 8} y={y(t) + 5} text-anchor="end">{short(t, comma)}</text></g>)}
        {ticks(low, high).map((t) => <g key={t}><path class="tick" d={`M${x(t)} ${H - bottom}v5`} /><text x={x(t)} y={H - bottom + 20} text-anchor="middle">{short(t, comma)}</text></g>)}
        <path class="axis" d={`M${left} ${top}V${H - bottom}H${W - right}`} />
        <text x={(left + W - right) / 2} y={H - 4} text-anchor="middle">{title(f.x)}</text>
        <text transform={`translate(13 ${(H - bottom + top) / 2}) rotate(-90)`} text-anchor="middle">{title(f.y)}</text>
        {f.marks?.filter((m) => m.at >= low && m.at <= high).map((m) => <g key={m.label}><path class="mark" d={`M${x(m.at)} ${top}V${H - bottom}`} /><text x={x(m.at)} y={top - 6} text-anchor={m.at > (low + high) / 2 ? "end" : "start"}>{m.label}</text></g>)}
        {at !== null && <path class="reading" d={`M${x(xs[at]!)} ${top}V${H - bottom}`} />}
      </svg>
      <ol class="stack-key" aria-label="From the top">
        {f.series.map((s, i) => <li key={s.name}><svg viewBox="0 0 28 20" aria-hidden="true"><rect class="band" width="28" height="20" fill={`url(#${id}p${i})`} /></svg>{s.name}</li>)}
      </ol>
      <p class="chart-read" aria-live="polite">{at === null ? <span class="faint">Touch the picture to read it.</span> : readOut(f, at, comma)}</p>
      {f.note && <p class="doubt">{f.note}</p>}
    </figure>
  );
}

const known = (list: (number | null)[]): number[] => list.filter((v): v is number => v !== null);
const title = (a: Axis) => (a.unit ? `${a.label} (${a.unit})` : a.label);
const short = (v: number, comma: boolean) => number(v, Number.isInteger(v) ? 0 : v * 10 === Math.round(v * 10) ? 1 : 2, comma);

// Patterns tell bands apart in grey and for every eye: six ways to hatch.
function Patterns({ id, n }: { id: string; n: number }) {
  const ways = ["", "M0 4h8", "M4 0v8", "M0 8L8 0", "M0 0L8 8", "M0 4h8M4 0v8"];
  return (
    <defs>
      {Array.from({ length: n }, (_, i) => (
        <pattern key={i} id={`${id}p${i}`} width="8" height="8" patternUnits="userSpaceOnUse">
          <rect class={`tint line-${(i % 6) + 1}`} width="8" height="8" />
          <path class={`hatch line-${(i % 6) + 1}`} d={ways[i % ways.length]} />
        </pattern>
      ))}
    </defs>
  );
}

function area(s: Series, x: (v: number) => number, y: (v: number) => number): string {
  const at = s.x.flatMap((v, i) => (v === null || s.y[i] === null || s.y[i] === undefined ? [] : [[x(v), y(s.y[i]), y(s.low?.[i] ?? 0)] as const]));
  return [...at.map(([px, py]) => `${px},${py}`), ...[...at].reverse().map(([px, , floor]) => `${px},${floor}`)].join(" ");
}

function nearest(places: number[], to: number): number {
  return places.reduce((best, p, i) => (Math.abs(p - to) < Math.abs(places[best]! - to) ? i : best), 0);
}

function ticks(low: number, high: number): number[] {
  const rough = (high - low) / 5, ten = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((k) => k * ten).find((k) => k >= rough)!;
  const out: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9; k++) out.push(Math.round(k * step * 1e6) / 1e6);
  return out;
}

function readOut(f: Figure, at: number, comma: boolean): string {
  const parts = f.series.flatMap((s) => (s.y[at] === null || s.y[at] === undefined ? [] : [`${s.name} ${number(s.y[at] - (s.low?.[at] ?? 0), f.y.digits, comma)}`]));
  const whole = Math.max(...f.series.map((s) => s.y[at] ?? 0));
  return `${f.x.label} ${number(f.series[0]!.x[at] ?? 0, f.x.digits, comma)} ${f.x.unit}: ${number(whole, f.y.digits, comma)} ${f.y.unit} in all; of it ${parts.join(", ")}`;
}
