import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import { densityOf, dotsUpTo, paintDensity } from "./density";
import { blankSpan, toPx, wholeView, type Place, type View } from "./geometry";
import { fit, paintFace, paintImpact, tag } from "./paint";
import type { Face, Group, Impact } from "./types";

interface Props { face: Face; group: Group; impacts: Impact[]; says: string }

// FacePicture shows where the arrows struck, the shape of the group and its
// centre with its doubt. It is one canvas, however many arrows there are.
export function FacePicture({ face, group, impacts, says }: Props) {
  const box = useRef<HTMLDivElement>(null), canvas = useRef<HTMLCanvasElement>(null);
  const [near, setNear] = useState(false);
  const [size, setSize] = useState(320);
  useEffect(() => {
    const measure = () => setSize(Math.max(240, Math.min(box.current?.clientWidth ?? 320, 560, innerHeight - 120)));
    measure();
    addEventListener("resize", measure);
    return () => removeEventListener("resize", measure);
  }, []);
  useLayoutEffect(() => {
    if (!canvas.current) return;
    canvas.current.style.height = canvas.current.style.width = `${size}px`;
    paint(fit(canvas.current, size), near ? closeUp(group, face, size) : wholeView(face, size, reach(impacts)), face, group, impacts);
  }, [face, group, impacts, near, size]);
  const many = impacts.length > dotsUpTo;
  return (
    <figure style={{ margin: 0 }}>
      <div ref={box} class="face-picture"><canvas ref={canvas} role="img" aria-label={says} /></div>
      <div class="row">
        <button type="button" aria-pressed={near} onClick={() => setNear(!near)}>{near ? "Whole face" : "Close up"}</button>
      </div>
      <figcaption class="doubt">
        {many ? `${impacts.length.toLocaleString()} arrows as a density: darker where more struck.` : group.kind === "bare" ? "Squares: bare shafts." : "Discs: arrows."}
        {(group.ellipse_long_run ?? group.ellipse).major_m !== null && " Ellipses: half of the arrows fall inside the full one, nine in ten inside the dashed one, in the long run. Bars: the centre, with its 95 % interval."}
      </figcaption>
    </figure>
  );
}

// reach is the width of blank paper that holds every arrow.
const reach = (impacts: Impact[]): number => impacts.reduce((far, i) => Math.max(far, 2.2 * Math.abs(i.x_m ?? 0), 2.2 * Math.abs(i.y_m ?? 0)), blankSpan);

// closeUp shows the group alone, three σ to each side.
function closeUp(g: Group, face: Face, size: number): View {
  const sigma = (g.ellipse_long_run ?? g.ellipse).major_m ?? 0.05, at = { x: g.centre_m.x.value ?? 0, y: g.centre_m.y.value ?? 0 };
  return { ...at, perPx: Math.min(wholeView(face, size).perPx, (7 * sigma) / size), size };
}

type Ctx = CanvasRenderingContext2D;

function paint(ctx: Ctx, v: View, face: Face, g: Group, impacts: Impact[]): void {
  const many = impacts.length > dotsUpTo;
  paintFace(ctx, face, v, many);
  if (many) {
    paintDensity(ctx, densityOf(v, impacts));
  } else {
    const r = impacts.length > 300 ? 1.5 : impacts.length > 60 ? 2.5 : 3.5;
    for (const i of impacts) paintImpact(ctx, v, i, r, false);
  }
  shape(ctx, v, g);
  centre(ctx, v, g);
}

// twice draws a line in black with a white rim, which shows on every ring.
function twice(ctx: Ctx, draw: () => void, width = 2, dash: number[] = []): void {
  ctx.setLineDash([]);
  ctx.strokeStyle = "#ffffff"; ctx.lineWidth = width + 3; draw();
  ctx.setLineDash(dash);
  ctx.strokeStyle = "#000000"; ctx.lineWidth = width; draw();
  ctx.setLineDash([]);
}

// Radii of the ellipses that hold half, and nine in ten, in units of σ:
// √(−2 ln(1−p)) of the Rayleigh distribution.
const holds = (p: number): number => Math.sqrt(-2 * Math.log(1 - p));

function shape(ctx: Ctx, v: View, g: Group): void {
  const e = g.ellipse_long_run ?? g.ellipse;
  if (e.major_m === null || e.minor_m === null || e.angle_deg === null) return;
  const p = toPx(v, { x: e.x_m ?? 0, y: e.y_m ?? 0 });
  for (const [share, dash, name] of [[0.9, [9, 6], "9 in 10"], [0.5, [], "half"]] as const) {
    const k = holds(share) / v.perPx, a = e.major_m * k, b = e.minor_m * k;
    twice(ctx, () => {
      ctx.beginPath();
      ctx.ellipse(p.x, p.y, a, b, (-e.angle_deg! * Math.PI) / 180, 0, 2 * Math.PI);
      ctx.stroke();
    }, 2, [...dash]);
    const top = Math.hypot(a * Math.sin((e.angle_deg * Math.PI) / 180), b * Math.cos((e.angle_deg * Math.PI) / 180));
    tag(ctx, { x: p.x, y: Math.max(10, p.y - top - 10) }, name, "center");
  }
}

function centre(ctx: Ctx, v: View, g: Group): void {
  const { x, y } = g.centre_m;
  if (x.value === null || y.value === null) return;
  const at = (px: number, py: number): Place => toPx(v, { x: px, y: py });
  const bar = (from: Place, to: Place, across: Place) => twice(ctx, () => {
    ctx.beginPath();
    ctx.moveTo(from.x, from.y); ctx.lineTo(to.x, to.y);
    for (const end of [from, to]) { ctx.moveTo(end.x - across.x, end.y - across.y); ctx.lineTo(end.x + across.x, end.y + across.y); }
    ctx.stroke();
  });
  if (x.low !== null && x.high !== null) bar(at(x.low, y.value), at(x.high, y.value), { x: 0, y: 6 });
  if (y.low !== null && y.high !== null) bar(at(x.value, y.low), at(x.value, y.high), { x: 6, y: 0 });
  if (x.low === null) { const c = at(x.value, y.value); bar({ x: c.x - 8, y: c.y }, { x: c.x + 8, y: c.y }, { x: 0, y: 0 }); }
}
