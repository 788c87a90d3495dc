import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { FigureTable, type Figure, type Series } from "../ui/chart";

// Picture draws a figure as lines for paper: it scales with the page and
// prints sharp, series told apart by dashes and shapes as well as by colour.
const W = 400, H = 200, left = 52, right = 22, top = 10, bottom = 38;

export function Picture({ figure: f }: { figure: Figure }) {
  const comma = useComma();
  const xs = f.series.flatMap((s) => known(s.x)), ys = f.series.flatMap((s) => [...known(s.y), ...known(s.low ?? []), ...known(s.high ?? [])]);
  if (xs.length === 0 || ys.length === 0) return <figure class="picture"><figcaption><strong>{f.title}</strong> Nothing to draw: {f.finding}</figcaption></figure>;
  const x = scale(xs, left, W - right), y = scale(ys, H - bottom, top);
  return (
    <figure class="picture">
      <figcaption><strong>{f.title}</strong> {f.finding}</figcaption>
      <svg viewBox={`0 0 ${W} ${H}`} role="img" aria-label={`${f.title}. ${f.finding}`}>
        {f.spans?.map((s) => <rect key={s.label} class="span" x={x.at(Math.max(s.from, x.low))} y={top} width={Math.max(0, x.at(Math.min(s.to, x.high)) - x.at(Math.max(s.from, x.low)))} height={H - top - bottom} />)}
        {y.ticks.map((t) => <g key={t}><line class="grid" x1={left} x2={W - right} y1={y.at(t)} y2={y.at(t)} /><text x={left - 5} y={y.at(t) + 4} text-anchor="end">{label(t, y.step, comma)}</text></g>)}
        {x.ticks.map((t) => <g key={t}><line class="grid" x1={x.at(t)} x2={x.at(t)} y1={top} y2={H - bottom} /><text x={x.at(t)} y={H - bottom + 14} text-anchor="middle">{label(t, x.step, comma)}</text></g>)}
        {f.series.map((s, i) => <Drawn key={s.name} s={s} i={i} x={x.at} y={y.at} />)}
        {f.marks?.filter((m) => m.at >= x.low && m.at <= x.high).map((m) => <g key={m.label}><line class="mark" x1={x.at(m.at)} x2={x.at(m.at)} y1={top} y2={H - bottom} /><text x={x.at(m.at) + 3} y={top + 10}>{m.label}</text></g>)}
        <text x={(left + W - right) / 2} y={H - 6} text-anchor="middle">{f.x.label} ({f.x.unit})</text>
        <text transform={`translate(12 ${(H - bottom + top) / 2}) rotate(-90)`} text-anchor="middle">{f.y.label}{f.y.unit && ` (${f.y.unit})`}</text>
      </svg>
      <ul class="series">{f.series.map((s, i) => <li key={s.name}><svg viewBox="0 0 26 10" aria-hidden="true">{s.kind === "curve" ? <path class={`curve line-${(i % 3) + 1} ${s.dashed ? "dashed" : ""}`} d="M0 5H26" /> : <g class={`line-${(i % 3) + 1}`}><Mark i={i} x={13} y={5} /></g>}</svg>{s.name}</li>)}</ul>
      {f.note && <p class="doubt">{f.note}</p>}
      <div class="no-print"><FigureTable figure={f} comma={comma} /></div>
    </figure>
  );
}

function Drawn({ s, i, x, y }: { s: Series; i: number; x: (v: number) => number; y: (v: number) => number }) {
  const points = s.x.flatMap((v, k) => (v === null || s.y[k] === null || s.y[k] === undefined ? [] : [{ x: x(v), y: y(s.y[k]), low: s.low?.[k], high: s.high?.[k] }]));
  const c = `line-${(i % 3) + 1}`;
  if (s.kind === "curve") return <polyline class={`curve ${c} ${s.dashed ? "dashed" : ""}`} points={points.map((p) => `${p.x.toFixed(1)},${p.y.toFixed(1)}`).join(" ")} />;
  return (
    <g class={c}>
      {points.map((p, k) => (
        <g key={k}>
          {typeof p.low === "number" && typeof p.high === "number" && <line class="bar-line" x1={p.x} x2={p.x} y1={y(p.low)} y2={y(p.high)} />}
          <Mark i={i} x={p.x} y={p.y} />
        </g>
      ))}
    </g>
  );
}

// Mark is a reading's place: disc, square or triangle, so that grey tells
// series apart too.
function Mark({ i, x, y }: { i: number; x: number; y: number }) {
  if (i % 3 === 1) return <rect x={x - 3} y={y - 3} width="6" height="6" />;
  if (i % 3 === 2) return <path d={`M${x} ${y - 4}l4 7h-8z`} />;
  return <circle cx={x} cy={y} r="3.2" />;
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
