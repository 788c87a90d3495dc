import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { FigureTable, type Figure, type Series } from "../ui/chart";
import { colourOf, dashOf, looks, type Look } from "../ui/looks";
import { Marked, Swatch } from "../ui/swatch";

// Picture draws a figure as lines for paper: it scales with the page and
// prints sharp, series told apart by dashes and shapes as well as by colour.
const W = 400, H = 200, left = 52, right = 22, top = 10, bottom = 38;

export function Picture({ figure: f }: { figure: Figure }) {
  const comma = useComma();
  const xs = f.series.flatMap((s) => known(s.x)), ys = f.series.flatMap((s) => [...known(s.y), ...known(s.low ?? []), ...known(s.high ?? [])]);
  if (xs.length === 0 || ys.length === 0) return <figure class="picture"><figcaption><strong>{f.title}</strong> Nothing to draw: {f.finding}</figcaption></figure>;
  const x = scale(xs, left, W - right), y = scale(ys, H - bottom, top), dressed = looks(f.series);
  return (
    <figure class="picture">
      <figcaption><strong>{f.title}</strong> {f.finding}</figcaption>
      <svg viewBox={`0 0 ${W} ${H}`} role="img" aria-label={`${f.title}. ${f.finding}`}>
        {f.spans?.map((s) => <rect key={s.label} class="span" x={x.at(Math.max(s.from, x.low))} y={top} width={Math.max(0, x.at(Math.min(s.to, x.high)) - x.at(Math.max(s.from, x.low)))} height={H - top - bottom} />)}
        {y.ticks.map((t) => <g key={t}><line class="grid" x1={left} x2={W - right} y1={y.at(t)} y2={y.at(t)} /><text x={left - 5} y={y.at(t) + 4} text-anchor="end">{label(t, y.step, comma)}</text></g>)}
        {x.ticks.map((t) => <g key={t}><line class="grid" x1={x.at(t)} x2={x.at(t)} y1={top} y2={H - bottom} /><text x={x.at(t)} y={H - bottom + 14} text-anchor="middle">{label(t, x.step, comma)}</text></g>)}
        {f.series.map((s, i) => <Drawn key={s.name} s={s} look={dressed[i]!} i={i} x={x.at} y={y.at} />)}
        {f.marks?.filter((m) => m.at >= x.low && m.at <= x.high).map((m) => <g key={m.label}><line class="mark" x1={x.at(m.at)} x2={x.at(m.at)} y1={top} y2={H - bottom} /><text x={x.at(m.at) + 3} y={top + 10}>{m.label}</text></g>)}
        <text x={(left + W - right) / 2} y={H - 6} text-anchor="middle">{f.x.label} ({f.x.unit})</text>
        <text transform={`translate(12 ${(H - bottom + top) / 2}) rotate(-90)`} text-anchor="middle">{f.y.label}{f.y.unit && ` (${f.y.unit})`}</text>
      </svg>
      <ul class="series">{f.series.map((s, i) => <li key={s.name}><Swatch look={dressed[i]!} i={i} />{s.name}</li>)}</ul>
      {f.note && <p class="doubt">{f.note}</p>}
      <div class="no-print"><FigureTable figure={f} comma={comma} /></div>
    </figure>
  );
}

// Drawn is one series: a curve with the band of its doubt, or points with bars.
function Drawn({ s, look, i, x, y }: { s: Series; look: Look; i: number; x: (v: number) => number; y: (v: number) => number }) {
  const points = s.x.flatMap((v, k) => (v === null || s.y[k] === null || s.y[k] === undefined ? [] : [{ x: x(v), y: y(s.y[k]), low: s.low?.[k], high: s.high?.[k] }]));
  const stroke = `var(${colourOf(i)})`, bounded = points.filter((p) => typeof p.low === "number" && typeof p.high === "number");
  const way = (list: (readonly [number, number])[]) => list.map(([px, py]) => `${px.toFixed(1)},${py.toFixed(1)}`).join(" ");
  return (
    <g>
      {s.kind === "curve" && bounded.length > 1 && <polygon class="band" style={{ fill: stroke }} points={way([...bounded.map((p) => [p.x, y(p.high!)] as const), ...[...bounded].reverse().map((p) => [p.x, y(p.low!)] as const)])} />}
      {s.kind === "curve" && <polyline style={{ fill: "none", stroke, strokeWidth: 2.2, strokeDasharray: dashOf(look, 2.2).join(" ") || "none" }} points={way(points.map((p) => [p.x, p.y] as const))} />}
      {s.kind === "points" && bounded.map((p, k) => <line key={k} style={{ stroke }} class="bar-line" x1={p.x} x2={p.x} y1={y(p.low!)} y2={y(p.high!)} />)}
      {points.map((p, k) => <Marked key={k} look={look} i={i} x={p.x} y={p.y} r={3.6} />)}
    </g>
  );
}

const known = (list: (number | null)[]): number[] => list.filter((v): v is number => typeof v === "number");

// scale lays values over a stretch of the page, with three to six round ticks.
function scale(values: number[], from: number, to: number) {
  let low = Math.min(...values), high = Math.max(...values);
  const pad = high > low ? 0.06 * (high - low) : 1;
  low -= pad; high += pad;
  const rough = (high - low) / 5, ten = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((k) => k * ten).find((k) => k >= rough)!;
  const ticks: number[] = [];
  for (let k = Math.ceil(low / step); k * step <= high; k++) ticks.push(k * step);
  return { low, high, step, ticks, at: (v: number) => from + ((v - low) / (high - low)) * (to - from) };
}

const label = (v: number, step: number, comma: boolean) => number(v, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)), comma);
