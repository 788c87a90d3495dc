import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import { aimed, keyed, lensPlace, slowness, times, type Held } from "./aim";
import { closer, toPx, wholeView, zoneAt, type Place, type View } from "./geometry";
import { fit, paintCross, paintFace, paintGround, paintImpact, paintLens, type Ground } from "./paint";
import type { Face, Impact } from "./types";
import { usePlaceWords } from "./words";

const lensSize = 176;

export interface BoardProps {
  face: Face; span: number; shaft: number; impacts: Impact[]; earlier: Impact[]; picked?: number; enlarge: boolean; // span: of blank paper, m
  label: string; onPlace: (p: Place) => void;
  ground?: Ground; lines?: Place[][]; // a picture instead of the drawn face, with lines over it
  words?: (p: Place) => string; help?: string; // for a picture that is not measured in metres
}

// Board is the face to plot on. A touch shows the magnifier, lifting places
// the arrow; with "enlarge first" a tap enlarges and the next one places, and
// nothing has to be slid. Arrow keys move the cross, Enter places.
export function Board(p: BoardProps) {
  const box = useRef<HTMLDivElement>(null);
  const size = useSquare(box);
  const [zoom, setZoom] = useState<Place | null>(null);
  const [held, setHeld] = useState<Held | null>(null);
  const [cross, setCross] = useState<Place | null>(null); // of the keyboard
  const own = usePlaceWords(), words = p.words ?? own;
  const whole = wholeView(p.face, size, p.span), view = zoom ? closer(whole, zoom, 5) : whole;
  const aim = held ? aimed(view, held) : cross;
  useEffect(() => setZoom(null), [p.face.key, p.enlarge, p.ground === undefined]);

  const place = (at: Place) => {
    if (p.enlarge && !zoom) return setZoom(at);
    setZoom(null);
    p.onPlace(at);
  };
  const local = (e: PointerEvent): Place => {
    const r = box.current!.getBoundingClientRect();
    return { x: e.clientX - r.left, y: e.clientY - r.top };
  };
  const down = (e: PointerEvent) => {
    if (held || e.button !== 0) return; // a second finger, a palm
    (e.currentTarget as HTMLElement).setPointerCapture(e.pointerId);
    setCross(null);
    setHeld({ id: e.pointerId, from: local(e), now: local(e), fine: slowness(e.pointerType) });
  };
  const move = (e: PointerEvent) => { if (held?.id === e.pointerId) setHeld({ ...held, now: local(e) }); };
  const up = (e: PointerEvent) => {
    if (held?.id !== e.pointerId) return;
    setHeld(null);
    place(aimed(view, held)); // where it was aimed, not where the finger left
  };
  const key = (e: KeyboardEvent) => {
    const next = keyed(e.key, e.shiftKey, cross ?? { x: view.x, y: view.y });
    if (next) setCross(next);
    else if ((e.key === "Enter" || e.key === " ") && cross) p.onPlace(cross);
    else if (e.key === "Escape") { setCross(null); setZoom(null); }
    else return;
    e.preventDefault();
  };
  const says = aim && (zoneAt(p.face, aim, p.shaft)?.label ?? "");
  return (
    <div class="board">
      <div ref={box} class="board-face" tabIndex={0} role="application" aria-label={p.label} aria-describedby="board-help"
        onPointerDown={down} onPointerMove={move} onPointerUp={up} onPointerCancel={() => setHeld(null)} onKeyDown={key} onBlur={() => setCross(null)}
        onContextMenu={(e) => e.preventDefault()}>
        <Picture {...p} view={view} />
        <Aim view={view} at={aim} shaft={p.shaft} />
      </div>
      {zoom && <button type="button" class="board-back" onClick={() => setZoom(null)}>{p.words ? "Whole picture" : "Whole face"}</button>}
      {aim && <Lens {...p} view={view} at={aim} box={box} finger={held?.now} says={says ?? ""} />}
      <p class="visually-hidden" id="board-help">{p.help ?? "Arrow keys move the cross by a centimetre, with Shift by a millimetre. Enter places the arrow, Escape leaves."}</p>
      <p class="visually-hidden" role="status" data-aim={aim ? `${aim.x},${aim.y}` : ""}>{cross && `${says ? `${says}: ` : ""}${words(cross)}`}</p>
    </div>
  );
}

// useSquare is the side of the largest square that fits the box and, on a low
// screen, the window.
function useSquare(box: { current: HTMLElement | null }): number {
  const [size, setSize] = useState(320);
  useLayoutEffect(() => {
    const measure = () => setSize(Math.max(240, Math.min(box.current?.parentElement?.clientWidth ?? 320, 640, innerHeight - 120)));
    measure();
    addEventListener("resize", measure);
    return () => removeEventListener("resize", measure);
  }, []);
  useLayoutEffect(() => {
    if (box.current) { box.current.style.width = `${size}px`; box.current.style.height = `${size}px`; }
  }, [size]);
  return size;
}

// Picture is the face with what was plotted: the open end large, earlier ends
// as small dots. What stays from arrow to arrow lies on a sheet of its own, so
// that an arrow costs a slow phone only itself.
function Picture({ face, impacts, earlier, picked, view, ground, lines }: BoardProps & { view: View }) {
  const under = useSheet(view, (ctx) => {
    if (ground) paintGround(ctx, ground, face, view, lines);
    else paintFace(ctx, face, view);
    for (const i of earlier) paintImpact(ctx, view, i, 2, false);
  }, [face, earlier, ground, lines]);
  const over = useSheet(view, (ctx) => {
    ctx.clearRect(0, 0, view.size, view.size);
    impacts.forEach((i, k) => paintImpact(ctx, view, i, k === picked ? 7 : 5, true, i.arrow ?? ""));
  }, [impacts, picked]);
  return <>{under}{over}</>;
}

// useSheet is a canvas over the whole board, painted when the view or what is
// on it changes.
function useSheet(view: View, paint: (ctx: CanvasRenderingContext2D) => void, shows: unknown[]) {
  const canvas = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => paint(fit(canvas.current!, view.size)), [...shows, view.x, view.y, view.perPx, view.size]);
  return <canvas ref={canvas} class="board-canvas" />;
}

// Aim draws the cross over the picture.
function Aim({ view, at, shaft }: { view: View; at: Place | null; shaft: number }) {
  return useSheet(view, (ctx) => {
    ctx.clearRect(0, 0, view.size, view.size);
    if (at) paintCross(ctx, view, at, shaft);
  }, [at?.x, at?.y]);
}

function Lens({ face, shaft, impacts, view, at, box, finger, says, ground, lines }: BoardProps & { view: View; at: Place; box: { current: HTMLElement | null }; finger?: Place; says: string }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => {
    const el = canvas.current!, r = box.current!.getBoundingClientRect(), px = finger ?? toPx(view, at);
    const { left, top } = lensPlace({ x: r.left + px.x, y: r.top + px.y }, lensSize, innerWidth);
    el.style.left = `${left}px`;
    el.style.top = `${top}px`;
    paintLens(el, lensSize, face, view, at, times, shaft, impacts, says, ground, lines);
  });
  return <canvas ref={canvas} class="lens" aria-hidden="true" />;
}
