import { useEffect, useId, useRef, useState } from "preact/hooks";
import type uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import { capital } from "../lib/words";
import { CopyTable } from "./table";
import { colourOf, dashOf, isHollow, looks, outline, type Dash, type Look, type Shape } from "./looks";
import { Swatch } from "./swatch";

// The server's description of a picture (internal/figure), drawn on screen.
export interface Axis { label: string; unit: string; digits: number; log?: boolean }
export interface Series { name: string; kind: "curve" | "points"; x: (number | null)[]; y: (number | null)[]; low?: (number | null)[]; high?: (number | null)[]; dashed?: boolean; dash?: Dash; shape?: Shape }
export interface Figure {
  title: string; finding: string; x: Axis; y: Axis; series: Series[];
  spans?: { from: number; to: number; label: string }[];
  marks?: { at: number; label: string }[];
  note?: string;
}

const axisTitle = (a: Axis) => (a.unit ? `${a.label} (${a.unit})` : a.label);

// Chart draws the figure; a finger, a mouse or the arrow keys read values out
// as text, and the table behind it is one press away.
export function Chart({ figure, comma }: { figure: Figure; comma?: boolean }) {
  const box = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const [at, setAt] = useState<number | null>(null);
  const id = useId();
  const xs = allX(figure);
  const colours = useColours();

  useEffect(() => {
    const el = box.current;
    if (!el) return;
    setAt(null);
    let undo = () => { gone = true; }, gone = false;
    void import("uplot").then(({ default: Plot }) => {
      if (gone) return;
      const made = draw(Plot, el, figure, xs, setAt, comma ?? false);
      plot.current = made;
      const resize = new ResizeObserver(() => made.setSize(size(el)));
      resize.observe(el);
      const forget = touch(made);
      undo = () => { resize.disconnect(); forget(); made.destroy(); plot.current = null; };
    });
    return () => undo();
  }, [figure, colours, comma]);

  const step = (by: number) => {
    const next = Math.min(xs.length - 1, Math.max(0, (at ?? (by > 0 ? -1 : xs.length)) + by));
    setAt(next);
    const p = plot.current;
    if (p) p.setCursor({ left: p.valToPos(xs[next]!, "x"), top: 10 });
  };

  return (
    <figure style={{ margin: 0 }} aria-labelledby={id}>
      <h3 id={id}>{capital(figure.title)}</h3>
      <p>{capital(figure.finding)}</p>
      <div
        class="chart" ref={box} tabIndex={0} role="img"
        aria-label={`${figure.title}. ${figure.finding} Left and right arrow keys read the values out.`}
        onKeyDown={(e) => { if (e.key === "ArrowRight") step(1); else if (e.key === "ArrowLeft") step(-1); else return; e.preventDefault(); }}
      />
      <Legend figure={figure} />
      <p class="chart-read" aria-live="polite">{at === null ? <span class="faint">Touch the picture to read it.</span> : readOut(figure, xs[at]!, comma)}</p>
      {figure.note && <p class="doubt">{figure.note}</p>}
      <FigureTable figure={figure} comma={comma} />
    </figure>
  );
}

// useColours counts the changes of theme, so that a picture is drawn anew in
// the colours of the page around it.
export function useColours(): number {
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    const next = () => setTurn((n) => n + 1);
    const device = matchMedia("(prefers-color-scheme: dark)");
    device.addEventListener("change", next);
    addEventListener("themechange", next);
    return () => { device.removeEventListener("change", next); removeEventListener("themechange", next); };
  }, []);
  return turn;
}

// touch lets a finger slide along the picture; up and down still scrolls the
// page.
function touch(plot: uPlot): () => void {
  const over = plot.over;
  over.style.touchAction = "pan-y";
  const follow = (e: PointerEvent) => {
    if (e.pointerType === "mouse") return;
    plot.setCursor({ left: e.clientX - over.getBoundingClientRect().left, top: 10 });
  };
  over.addEventListener("pointerdown", follow);
  over.addEventListener("pointermove", follow);
  return () => { over.removeEventListener("pointerdown", follow); over.removeEventListener("pointermove", follow); };
}

function Legend({ figure }: { figure: Figure }) {
  const dressed = looks(figure.series);
  return (
    <ul class="key">
      {figure.series.map((s, i) => <li key={s.name}><Swatch look={dressed[i]!} i={i} />{s.name}</li>)}
      {figure.spans?.map((s) => <li key={s.label}><span class="shaded" />{s.label}</li>)}
    </ul>
  );
}

// FigureTable is the table behind a picture, for who cannot see it and for who
// wants to copy.
export function FigureTable({ figure, comma }: { figure: Figure; comma?: boolean }) {
  return (
    <details>
      <summary>The numbers behind it</summary>
      <CopyTable label={`Table: ${figure.title}`}>
        <table>
          <thead><tr><th scope="col">series</th><th scope="col">{axisTitle(figure.x)}</th><th scope="col">{axisTitle(figure.y)}</th><th scope="col">from … to</th></tr></thead>
          <tbody>
            {figure.series.flatMap((s) => s.x.map((x, i) => (
              <tr key={s.name + i}>
                <td>{s.name}</td><td>{show(x, figure.x, comma)}</td><td>{show(s.y[i], figure.y, comma)}</td>
                <td>{s.low ? `${show(s.low[i], figure.y, comma)} … ${show(s.high?.[i], figure.y, comma)}` : "none to give"}</td>
              </tr>
            )))}
          </tbody>
        </table>
      </CopyTable>
    </details>
  );
}

function show(v: number | null | undefined, a: Axis, comma?: boolean): string {
  if (v === null || v === undefined) return "–";
  const s = v.toFixed(a.digits);
  return comma ? s.replace(".", ",") : s;
}

function readOut(f: Figure, x: number, comma?: boolean): string {
  const parts = f.series.flatMap((s) => {
    const i = nearest(s.x, x);
    if (i < 0 || s.y[i] === null) return [];
    const doubt = s.low ? ` (${show(s.low[i], f.y, comma)} … ${show(s.high?.[i], f.y, comma)})` : "";
    return [`${s.name} ${show(s.y[i], f.y, comma)} ${f.y.unit}${doubt}`];
  });
  return `${f.x.label} ${show(x, f.x, comma)} ${f.x.unit}: ${parts.join("; ") || "nothing measured here"}`;
}

// nearest finds the place of x in a series, within a quarter of its spacing.
function nearest(xs: (number | null)[], x: number): number {
  let best = -1, gap = Infinity;
  xs.forEach((v, i) => { if (v !== null && Math.abs(v - x) < gap) { gap = Math.abs(v - x); best = i; } });
  const known = xs.filter((v): v is number => v !== null);
  const spacing = known.length > 1 ? (Math.max(...known) - Math.min(...known)) / (known.length - 1) : Infinity;
  return gap <= spacing / 4 + 1e-9 ? best : -1;
}

function allX(f: Figure): number[] {
  const set = new Set<number>();
  f.series.forEach((s) => s.x.forEach((x) => x !== null && set.add(x)));
  return [...set].sort((a, b) => a - b);
}

const lineWidth = 3;

const size = (el: HTMLElement) => ({ width: Math.max(240, el.clientWidth), height: 280 });

// column spreads a series' values over all x, with gaps where it has none.
function column(xs: number[], s: Series, ys: (number | null)[]): (number | null | undefined)[] {
  const at = new Map(s.x.map((x, i) => [x, ys[i] ?? null]));
  return xs.map((x) => (at.has(x) ? at.get(x) : undefined)); // undefined: the line runs through
}

function draw(Plot: typeof uPlot, el: HTMLElement, f: Figure, xs: number[], onRead: (i: number | null) => void, comma: boolean): uPlot {
  const css = getComputedStyle(el);
  const ink = css.getPropertyValue("--ink"), rule = css.getPropertyValue("--rule");
  const data: any[] = [xs], series: uPlot.Series[] = [{}], bands: uPlot.Band[] = [], dressed = looks(f.series);
  f.series.forEach((s, k) => {
    const stroke = css.getPropertyValue(colourOf(k)).trim();
    data.push(column(xs, s, s.y));
    const main = series.push({
      label: s.name, stroke, width: s.kind === "curve" ? lineWidth : 0, dash: dashOf(dressed[k]!, lineWidth),
      points: { show: false }, spanGaps: s.kind === "curve",
    }) - 1;
    if (!s.low || !s.high) return;
    const edge = { stroke: "transparent", width: 0, points: { show: false }, spanGaps: s.kind === "curve" };
    data.push(column(xs, s, s.high), column(xs, s, s.low));
    series.push({ label: "", ...edge }, { label: "", ...edge });
    if (s.kind === "curve") bands.push({ series: [main + 1, main + 2], fill: stroke + "26" });
  });
  const axis = { stroke: ink, grid: { stroke: rule, width: 1 }, ticks: { stroke: rule }, font: "15px system-ui, sans-serif", labelFont: "15px system-ui, sans-serif" };
  return new Plot({
    ...size(el), legend: { show: false }, cursor: { y: false, points: { show: false }, drag: { x: false, y: false } },
    scales: { x: { time: false, distr: f.x.log ? 3 : 1 } },
    axes: [{ ...axis, label: axisTitle(f.x), values: ticks(comma, f.x.log) }, { ...axis, label: axisTitle(f.y), size: 64, values: ticks(comma) }],
    series, bands,
    hooks: {
      setCursor: [(u) => onRead(u.cursor.idx ?? null)],
      drawClear: [(u) => shade(u, f, rule)],
      draw: [(u) => { whiskers(u, f, css); places(u, f, dressed, css); }],
    },
  }, data as uPlot.AlignedData, el);
}

// ticks writes the marks of an axis with as many decimals as they need.
const ticks = (comma: boolean, log = false) => (_: uPlot, at: (number | null)[]): string[] => {
  if (log) return at.map((v) => (v !== null && /^[125]0*$/.test(String(v)) ? String(v) : "")); // between them there is no room
  const exact = (digits: number) => at.every((v) => v === null || Math.abs(v * 10 ** digits - Math.round(v * 10 ** digits)) < 1e-6);
  const digits = [0, 1, 2, 3, 4, 5].find(exact) ?? 6;
  return at.map((v) => (v === null ? "" : comma ? v.toFixed(digits).replace(".", ",") : v.toFixed(digits)));
};

function shade(u: uPlot, f: Figure, colour: string): void {
  const { ctx, bbox } = u;
  ctx.save();
  ctx.globalAlpha = 0.3;
  ctx.fillStyle = colour;
  f.spans?.forEach((s) => {
    const a = Math.max(bbox.left, u.valToPos(s.from, "x", true)), b = Math.min(bbox.left + bbox.width, u.valToPos(s.to, "x", true));
    if (b > a) ctx.fillRect(a, bbox.top, b - a, bbox.height);
  });
  ctx.restore();
}

// places puts each series' shape where its points lie.
function places(u: uPlot, f: Figure, dressed: Look[], css: CSSStyleDeclaration): void {
  const { ctx } = u, r = 6.5 * devicePixelRatio;
  ctx.save();
  ctx.lineWidth = 2.5 * devicePixelRatio;
  f.series.forEach((s, k) => {
    const look = dressed[k]!;
    if (!look.shape) return;
    ctx.strokeStyle = ctx.fillStyle = css.getPropertyValue(colourOf(k)).trim();
    s.x.forEach((x, i) => {
      const y = s.y[i];
      if (x === null || y === null || y === undefined) return;
      const path = new Path2D(outline(look.shape!, u.valToPos(x, "x", true), u.valToPos(y, "y", true), r));
      if (isHollow(look)) ctx.stroke(path); else ctx.fill(path);
    });
  });
  ctx.restore();
}

// whiskers draws the doubt of points as bars, and the marks.
function whiskers(u: uPlot, f: Figure, css: CSSStyleDeclaration): void {
  const { ctx, bbox } = u;
  ctx.save();
  ctx.lineWidth = 2 * devicePixelRatio;
  f.series.forEach((s, k) => {
    if (s.kind !== "points" || !s.low || !s.high) return;
    ctx.strokeStyle = css.getPropertyValue(colourOf(k)).trim();
    s.x.forEach((x, i) => {
      const lo = s.low![i], hi = s.high![i];
      if (x === null || lo === null || hi === null || lo === undefined || hi === undefined) return;
      const px = u.valToPos(x, "x", true), a = u.valToPos(lo, "y", true), b = u.valToPos(hi, "y", true);
      ctx.beginPath(); ctx.moveTo(px, a); ctx.lineTo(px, b);
      for (const y of [a, b]) { ctx.moveTo(px - 6, y); ctx.lineTo(px + 6, y); }
      ctx.stroke();
    });
  });
  ctx.strokeStyle = css.getPropertyValue("--ink");
  ctx.fillStyle = css.getPropertyValue("--ink");
  ctx.font = `${15 * devicePixelRatio}px system-ui, sans-serif`;
  ctx.setLineDash([4 * devicePixelRatio, 4 * devicePixelRatio]);
  const taken: { from: number; to: number; row: number }[] = []; // labels that lie already
  f.marks?.forEach((m) => {
    const px = u.valToPos(m.at, "x", true);
    if (px < bbox.left || px > bbox.left + bbox.width) return;
    ctx.beginPath(); ctx.moveTo(px, bbox.top); ctx.lineTo(px, bbox.top + bbox.height); ctx.stroke();
    const left = px < bbox.left + bbox.width * 0.6;
    ctx.textAlign = left ? "left" : "right";
    ctx.textBaseline = "alphabetic";
    const wide = ctx.measureText(m.label).width + 12, from = left ? px : px - wide, to = from + wide;
    let row = 0;
    while (taken.some((t) => t.row === row && t.from < to && from < t.to)) row++;
    taken.push({ from, to, row });
    ctx.fillText(m.label, px + (left ? 6 : -6), bbox.top + (18 + 18 * row) * devicePixelRatio);
  });
  ctx.restore();
}
