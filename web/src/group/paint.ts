import { closer, isPlaced, toPx, type Place, type View } from "./geometry";
import type { Face, Impact } from "./types";

// Painting on a canvas: any number of impacts is one picture, not one node
// each. The colours are those of the printed faces; what is drawn over them is
// black with a white rim, so that it shows on every ring.

type Ctx = CanvasRenderingContext2D;

const ringColour: Record<string, string> = { gold: "#f4d03f", red: "#d9483b", blue: "#4aa3d8", black: "#26292b", white: "#ffffff" };
const lineColour = (colour: string): string => (colour === "black" ? "#ffffff" : "#14181a");

// fit makes a canvas as sharp as the screen and gives its context in CSS
// pixels.
export function fit(canvas: HTMLCanvasElement, size: number): Ctx {
  const dots = window.devicePixelRatio || 1;
  const wide = Math.round(size * dots);
  if (canvas.width !== wide) { canvas.width = wide; canvas.height = wide; }
  const ctx = canvas.getContext("2d")!;
  ctx.setTransform(dots, 0, 0, dots, 0, 0);
  return ctx;
}

// paintFace draws the printed face; pale leaves only its lines, for what is
// read by lightness.
export function paintFace(ctx: Ctx, face: Face, v: View, pale = false): void {
  ctx.fillStyle = face.zones.length > 0 && !pale ? "#cdbf9f" : "#ffffff"; // the bale behind the paper, or the paper
  ctx.fillRect(0, 0, v.size, v.size);
  if (face.zones.length === 0) return grid(ctx, v);
  const c = toPx(v, { x: 0, y: 0 });
  for (const z of [...face.zones].reverse()) {
    const r = z.radius_m / v.perPx;
    ctx.beginPath();
    ctx.arc(c.x, c.y, r, 0, 2 * Math.PI);
    ctx.fillStyle = (!pale && ringColour[z.colour]) || "#ffffff";
    ctx.fill();
    ctx.beginPath();
    ctx.arc(c.x, c.y, Math.max(0, r - 0.5), 0, 2 * Math.PI);
    ctx.strokeStyle = pale ? "#9aa39d" : lineColour(z.colour);
    ctx.lineWidth = 1;
    ctx.stroke();
  }
  cross(ctx, c, 4, "#14181a", 1);
}

// Ground is a picture that lies where the face would be drawn: its left and top
// edge and its size in the units of the board.
export interface Ground { image: CanvasImageSource; left: number; top: number; wide: number; high: number }

// paintGround draws a picture with the face's rings, or other lines, thinly
// over it, so that one sees whether they fit.
export function paintGround(ctx: Ctx, g: Ground, face: Face, v: View, lines: Place[][] = []): void {
  ctx.fillStyle = "#808080";
  ctx.fillRect(0, 0, v.size, v.size);
  const at = toPx(v, { x: g.left, y: g.top });
  ctx.imageSmoothingQuality = "high";
  ctx.drawImage(g.image, at.x, at.y, g.wide / v.perPx, g.high / v.perPx);
  const c = toPx(v, { x: 0, y: 0 });
  for (const z of face.zones) twoTone(ctx, () => ctx.arc(c.x, c.y, z.radius_m / v.perPx, 0, 2 * Math.PI));
  for (const line of lines) twoTone(ctx, () => line.forEach((p, k) => { const q = toPx(v, p); if (k === 0) ctx.moveTo(q.x, q.y); else ctx.lineTo(q.x, q.y); }));
}

// twoTone strokes a thin line that shows on any colour.
function twoTone(ctx: Ctx, path: () => void): void {
  for (const [colour, width] of [["#ffffff", 2], ["#000000", 0.8]] as const) {
    ctx.beginPath();
    path();
    ctx.strokeStyle = colour;
    ctx.lineWidth = width;
    ctx.stroke();
  }
}

// grid rules blank paper every ten centimetres, the middle lines bolder.
function grid(ctx: Ctx, v: View): void {
  const half = (v.size / 2) * v.perPx, step = 0.1;
  for (let k = Math.ceil((Math.min(v.x, v.y) - half) / step); k * step <= Math.max(v.x, v.y) + half; k++) {
    const p = toPx(v, { x: k * step, y: k * step });
    ctx.strokeStyle = k === 0 ? "#14181a" : "#b9c0bb";
    ctx.lineWidth = 1;
    ctx.beginPath();
    ctx.moveTo(p.x, 0); ctx.lineTo(p.x, v.size);
    ctx.moveTo(0, p.y); ctx.lineTo(v.size, p.y);
    ctx.stroke();
  }
}

function cross(ctx: Ctx, p: Place, arm: number, colour: string, width: number): void {
  ctx.strokeStyle = colour;
  ctx.lineWidth = width;
  ctx.beginPath();
  ctx.moveTo(p.x - arm, p.y); ctx.lineTo(p.x + arm, p.y);
  ctx.moveTo(p.x, p.y - arm); ctx.lineTo(p.x, p.y + arm);
  ctx.stroke();
}

// paintImpact draws one arrow: a disc, or a square for a bare shaft, so that
// the two differ by shape.
export function paintImpact(ctx: Ctx, v: View, i: Impact, r: number, strong: boolean, label?: string): void {
  if (!isPlaced(i)) return;
  const p = toPx(v, { x: i.x_m, y: i.y_m });
  const shape = (grow: number) => {
    ctx.beginPath();
    if (i.bare) ctx.rect(p.x - r - grow, p.y - r - grow, 2 * (r + grow), 2 * (r + grow));
    else ctx.arc(p.x, p.y, r + grow, 0, 2 * Math.PI);
  };
  shape(strong ? 2.5 : 1);
  ctx.fillStyle = "#ffffff";
  ctx.fill();
  if (strong) { ctx.strokeStyle = "#000000"; ctx.lineWidth = 1; ctx.stroke(); }
  shape(0);
  ctx.fillStyle = i.bare ? "#ffffff" : "#000000";
  ctx.fill();
  if (i.bare) { ctx.strokeStyle = "#000000"; ctx.lineWidth = 2; ctx.stroke(); }
  if (label) tag(ctx, { x: p.x + r + 4, y: p.y }, label);
}

// tag writes a short text with a white rim.
export function tag(ctx: Ctx, p: Place, text: string, align: CanvasTextAlign = "left", size = 14): void {
  ctx.font = `bold ${size}px system-ui, sans-serif`;
  ctx.textAlign = align;
  ctx.textBaseline = "middle";
  ctx.lineJoin = "round";
  ctx.strokeStyle = "#ffffff";
  ctx.lineWidth = 4;
  ctx.strokeText(text, p.x, p.y);
  ctx.fillStyle = "#000000";
  ctx.fillText(text, p.x, p.y);
}

// paintCross draws where the arrow would be placed: long hairs with a gap, so
// that the place itself stays in sight, and the shaft's own size.
export function paintCross(ctx: Ctx, v: View, at: Place, shaft: number): void {
  const p = toPx(v, at), gap = Math.max(7, shaft / 2 / v.perPx + 3);
  const hairs = () => {
    ctx.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]] as const) {
      ctx.moveTo(p.x + dx * gap, p.y + dy * gap);
      ctx.lineTo(p.x + dx * (gap + 34), p.y + dy * (gap + 34));
    }
    ctx.stroke();
  };
  ctx.strokeStyle = "#ffffff"; ctx.lineWidth = 5; hairs();
  ctx.strokeStyle = "#000000"; ctx.lineWidth = 2; hairs();
  for (const [colour, r] of [["#ffffff", 3], ["#000000", 1.5]] as const) {
    ctx.fillStyle = colour;
    ctx.beginPath();
    ctx.arc(p.x, p.y, r, 0, 2 * Math.PI);
    ctx.fill();
  }
}

// paintLens is the picture in the magnifier: the face around a place, several
// times larger, with the cross in the middle.
export function paintLens(canvas: HTMLCanvasElement, size: number, face: Face, v: View, at: Place, times: number, shaft: number, impacts: Impact[], says: string, ground?: Ground, lines?: Place[][]): void {
  const ctx = fit(canvas, size), near = closer(v, at, times, size);
  if (ground) paintGround(ctx, ground, face, near, lines);
  else paintFace(ctx, face, near);
  for (const i of impacts) paintImpact(ctx, near, i, Math.max(4, shaft / 2 / near.perPx), false, i.arrow);
  paintCross(ctx, near, at, shaft);
  tag(ctx, { x: size / 2, y: size - 22 }, says, "center", 26);
}
