import { useRef } from "preact/hooks";
import { useGet } from "../lib/load";
import { colour, useCanvas } from "./canvas";
import type { EventName, Mark } from "./edits";
import type { Waveform } from "./types";

// Span is the piece of the recording that is looked at, in seconds.
export interface Span { from: number; to: number }

const looks: Record<EventName, { colour: string; letter: string }> = {
  clicker: { colour: "--line-3", letter: "C" }, release: { colour: "--line-1", letter: "R" }, impact: { colour: "--line-2", letter: "I" },
};

interface Props {
  recording: string; span: Span; height: number; marks: Mark[]; chosen?: Mark; event?: EventName; cursor?: number;
  whole?: boolean; view?: Span; onTap?: (t: number) => void;
}

// Wave draws a piece of the waveform with its events: solid as they are in
// force, dashed where the program had found them. A tap gives its moment; all
// it does can be done with the buttons and keys beside it.
export function Wave(p: Props) {
  const { span } = p;
  const wave = useGet<Waveform>(`/recordings/${p.recording}/waveform?from=${round(span.from)}&to=${round(span.to)}&bins=900`);
  const last = useRef<Waveform | undefined>(undefined);
  if (wave.value) last.current = wave.value;
  const data = wave.value ?? last.current;
  const { ref, width } = useCanvas(p.height, (c, w, css) => {
    const x = (t: number) => ((t - span.from) / (span.to - span.from)) * w;
    axis(c, w, p.height, span, css);
    if (p.view) window_(c, x(p.view.from), x(p.view.to), p.height, css);
    if (data) outline(c, data, x, p.height - 22, css);
    for (const m of p.marks) events(c, m, x, p, css);
    if (p.cursor !== undefined) line(c, x(p.cursor), p.height - 22, colour(css, "--ink"), 2, [2, 3]);
  }, [data, span.from, span.to, p.marks, p.chosen, p.event, p.cursor, p.view?.from, p.view?.to]);
  const down = useRef<number | undefined>(undefined);
  return (
    <canvas
      ref={ref} class="wave" style={{ height: `${p.height}px` }} aria-hidden="true"
      onPointerDown={(e) => { down.current = e.offsetX; }}
      onPointerUp={(e) => {
        const moved = Math.abs(e.offsetX - (down.current ?? Infinity));
        if (p.onTap && width > 0 && moved < 8) p.onTap(span.from + (e.offsetX / width) * (span.to - span.from));
      }}
    />
  );
}

const round = (t: number) => Math.max(0, Math.round(t * 1e4) / 1e4);

// outline fills between least and largest value, scaled to the piece so that a
// quiet shot can be seen too.
function outline(c: CanvasRenderingContext2D, d: Waveform, x: (t: number) => number, height: number, css: CSSStyleDeclaration): void {
  let top = 1e-3;
  for (let i = 0; i < d.max.length; i++) top = Math.max(top, d.max[i]!, -d.min[i]!);
  const y = (v: number) => height / 2 - (v / top) * (height / 2 - 2);
  c.fillStyle = colour(css, "--faint");
  c.beginPath();
  d.max.forEach((v, i) => c.lineTo(x(d.from_s + (i + 0.5) * d.step_s), Math.min(y(v), height / 2 - 0.5)));
  for (let i = d.min.length - 1; i >= 0; i--) c.lineTo(x(d.from_s + (i + 0.5) * d.step_s), Math.max(y(d.min[i]!), height / 2 + 0.5));
  c.fill();
}

function events(c: CanvasRenderingContext2D, m: Mark, x: (t: number) => number, p: Props, css: CSSStyleDeclaration): void {
  if (p.whole) {
    line(c, x(m.release), p.height - 22, colour(css, m.struck ? "--rule" : "--line-1"), m === p.chosen ? 4 : 2, m.struck ? [3, 3] : []);
    return;
  }
  for (const name of ["clicker", "impact", "release"] as const) {
    const now = m[name], found = m.auto ? (name === "release" ? m.auto.release_s : m.auto[`${name}_s`]) : null;
    const chosen = m === p.chosen && name === p.event;
    if (found !== null && (m.struck || now === null || Math.abs(now - found) > 5e-5)) line(c, x(found), p.height - 22, colour(css, looks[name].colour), 1.5, [3, 4]);
    if (now === null || m.struck) continue;
    line(c, x(now), p.height - 22, colour(css, looks[name].colour), chosen ? 4 : 2, []);
    label(c, x(now), looks[name].letter, chosen, colour(css, looks[name].colour), colour(css, "--card"));
  }
}

function line(c: CanvasRenderingContext2D, x: number, height: number, stroke: string, width: number, dash: number[]): void {
  c.save();
  c.strokeStyle = stroke;
  c.lineWidth = width;
  c.setLineDash(dash);
  c.beginPath();
  c.moveTo(x, 0);
  c.lineTo(x, height);
  c.stroke();
  c.restore();
}

// label marks an event by a letter, so that colour is not all that tells it.
function label(c: CanvasRenderingContext2D, x: number, letter: string, chosen: boolean, fill: string, paper: string): void {
  const size = chosen ? 20 : 15;
  c.fillStyle = fill;
  c.fillRect(x - size / 2, 0, size, size);
  c.fillStyle = paper;
  c.font = `bold ${size - 4}px system-ui, sans-serif`;
  c.textAlign = "center";
  c.textBaseline = "middle";
  c.fillText(letter, x, size / 2 + 0.5);
}

function window_(c: CanvasRenderingContext2D, a: number, b: number, height: number, css: CSSStyleDeclaration): void {
  c.fillStyle = colour(css, "--accent-soft");
  c.fillRect(a - 3, 0, Math.max(6, b - a + 6), height - 22);
  c.strokeStyle = colour(css, "--accent");
  c.lineWidth = 2;
  c.strokeRect(a - 3, 1, Math.max(6, b - a + 6), height - 24);
}

// axis writes the seconds below.
function axis(c: CanvasRenderingContext2D, width: number, height: number, span: Span, css: CSSStyleDeclaration): void {
  const rough = (span.to - span.from) / Math.max(2, width / 90);
  const power = 10 ** Math.floor(Math.log10(rough)), step = [1, 2, 5, 10].map((k) => k * power).find((s) => s >= rough)!;
  const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
  c.fillStyle = colour(css, "--ink");
  c.strokeStyle = colour(css, "--rule");
  c.font = "14px system-ui, sans-serif";
  c.textBaseline = "bottom";
  for (let t = Math.ceil(span.from / step) * step; t <= span.to + 1e-9; t += step) {
    const at = ((t - span.from) / (span.to - span.from)) * width;
    c.textAlign = at < 16 ? "left" : at > width - 16 ? "right" : "center";
    c.fillText(t.toFixed(digits), at, height);
    c.beginPath();
    c.moveTo(at, 0);
    c.lineTo(at, height - 20);
    c.stroke();
  }
}
