import { useMemo } from "preact/hooks";
import { Board } from "../group/board";
import type { Place } from "../group/geometry";
import type { Face, Impact, Zone } from "../group/types";
import type { Update } from "../lib/draft";
import { fitConic, mapped, rectifier } from "./circles";
import { inverse } from "./matrix";
import { inPicture, onSheet, ringLines, sheetOf, sheetSpan, type Shot } from "./picture";
import { refined, type Fit } from "./refine";
import { Residual } from "./residual";
import { edgesOf, findRings } from "./rings";
import type { Photo, Step } from "./state";

interface Props {
  shot: Shot; photo: Photo; set: Update<Photo>; face: Face; enlarge: boolean;
  tried: <T>(f: () => T) => T | undefined; away: () => void; straighten: (mark: Place) => void;
}

const paper: Face = { key: "picture", name: "picture", zones: [], spots: 1, line_rule: "" };

const asks: Record<Step, string> = {
  middle: "Tap the middle of the face, inside the gold.",
  rings: "Do the drawn rings lie on the printed ones? Tap the gold again to look once more.",
  hand: "Tap five places or more all round each ring, on its outer edge.",
  upright: "Tap a place straight above the middle, as far up as you can see one: a plumb line, the top of the upright line on the paper.",
  done: "",
};

// Finding are the steps from a picture to a face: the middle, the rings, and
// what is upright.
export function Finding(p: Props) {
  const { shot, photo, set, face } = p, { found } = photo;
  const tap = (at: Place) => {
    const px = inPicture(shot, at);
    if (photo.step === "upright") return p.straighten(px);
    if (photo.step === "hand") return set((now) => byHand(now, px, p));
    const fit = p.tried(() => findRings(shot.pixels, px, face.zones));
    set((now) => ({ ...now, face: face.key, middle: px, map: undefined, ...(fit ? { step: "rings", found: kept(fit, false) } : { step: "middle", found: undefined }) }));
  };
  const ground = useMemo(() => sheetOf(shot), [shot]);
  const lines = useMemo(() => (found ? ringLines(shot, found.map, photo.step === "hand" ? photo.hand : face.zones.map((z) => z.radius_m)) : []), [shot, found, photo.step, photo.hand, face]);
  const dots: Impact[] = photo.step === "hand" ? photo.points.map((q) => { const s = onSheet(shot, q); return { x_m: s.x, y_m: s.y, bare: q.radius === photo.hand[0] }; }) : [];
  return (
    <>
      <p class="asks" role="status"><strong>{asks[photo.step]}</strong></p>
      <Board face={paper} span={sheetSpan} shaft={0} impacts={dots} earlier={[]} enlarge={p.enlarge} onPlace={tap} label={`The picture. ${asks[photo.step]}`}
        ground={ground} lines={lines}
        words={(at) => `${Math.round(100 * at.x)} right, ${Math.round(100 * at.y)} up, in hundredths of the picture`} help="Arrow keys move the cross by a hundredth of the picture, with Shift by a thousandth. Enter marks, Escape leaves." />
      {photo.step === "hand" && <Hand {...p} />}
      {found && photo.step !== "middle" && <Residual photo={photo} />}
      <Ways {...p} />
    </>
  );
}

const kept = (fit: Fit, hand: boolean) => ({ map: fit.map, residual: fit.residual, used: fit.used.length, left: fit.left, hand });

// byHand adds a place to a ring; with five on each the map is fitted.
function byHand(now: Photo, at: Place, p: Props): Photo {
  return fitted({ ...now, points: [...now.points, { ...at, radius: now.hand[now.now] }] }, p);
}

function fitted(now: Photo, p: Props): Photo {
  const [a, b] = now.hand.map((r) => now.points.filter((q) => q.radius === r));
  const bare: Photo = { ...now, face: p.face.key, found: undefined, map: undefined };
  if (a!.length < 5 || b!.length < 5 || now.hand[0] === now.hand[1]) return bare;
  const fit = p.tried(() => refined(rectifier(fitConic(a!), fitConic(b!), now.hand[1]), now.points));
  return fit ? { ...bare, found: kept(fit, true) } : bare;
}

// handRings are the rings that are easiest to see: the outermost, and the edge
// of a colour well inside it.
function handRings(zones: Zone[]): [number, number] {
  const outer = zones.at(-1)!.radius_m, edges = edgesOf(zones).map((e) => e.radius).filter((r) => r < 0.75 * outer);
  return [edges.at(-1) ?? zones[0]!.radius_m, outer];
}

function Hand(p: Props) {
  const { photo, set, face } = p, zones = face.zones;
  const name = (r: number) => { const z = zones.find((o) => o.radius_m === r); return z ? `outer edge of the ${z.label} (${z.colour})` : ""; };
  const choose = (k: 0 | 1, r: number) => set((now) => { const hand: [number, number] = k === 0 ? [r, now.hand[1]] : [now.hand[0], r]; return fitted({ ...now, hand, points: now.points.map((q) => (q.radius === now.hand[k] ? { ...q, radius: r } : q)) }, p); });
  return (
    <fieldset class="hand">
      <legend>The two rings</legend>
      {([0, 1] as const).map((k) => (
        <div class="row" key={k}>
          <label>{k === 0 ? "Inner ring" : "Outer ring"} <select value={String(photo.hand[k])} onChange={(e) => choose(k, Number(e.currentTarget.value))}>
            {zones.filter((z) => (k === 0 ? z.radius_m < photo.hand[1] : z.radius_m > photo.hand[0])).map((z) => <option key={z.label} value={String(z.radius_m)}>{name(z.radius_m)}</option>)}
          </select></label>
          <div class="taps"><button type="button" aria-pressed={photo.now === k} onClick={() => set((now) => ({ ...now, now: k }))}>Tap this ring: {photo.points.filter((q) => q.radius === photo.hand[k]).length} of 5</button></div>
        </div>
      ))}
      <button type="button" class="quiet" disabled={photo.points.length === 0} onClick={() => set((now) => fitted({ ...now, points: now.points.slice(0, -1) }, p))}>Take the last place back</button>
    </fieldset>
  );
}

// Ways are what leads on from a step, and back.
function Ways({ shot, photo, set, face, away, straighten }: Props) {
  const go = (step: Step) => set((now) => ({ ...now, step }));
  const above = (): Place => { const c = mapped(inverse(photo.found!.map), { x: 0, y: 0 }); return { x: c.x, y: c.y - shot.canvas.height / 4 }; };
  const hand = () => set((now) => ({ ...now, step: "hand", face: face.key, ...(now.found?.hand ? {} : { found: undefined, map: undefined }), hand: now.points.length > 0 ? now.hand : handRings(face.zones) }));
  return (
    <div class="row">
      {(photo.step === "rings" || photo.step === "hand") && <button type="button" class="main" disabled={!photo.found} onClick={() => go("upright")}>The rings lie right</button>}
      {photo.step === "upright" && <button type="button" class="main" onClick={() => straighten(above())}>The picture is upright as it is</button>}
      {photo.step === "upright" && <button type="button" class="quiet" onClick={() => go(photo.found?.hand ? "hand" : "rings")}>Back to the rings</button>}
      {(photo.step === "middle" || photo.step === "rings") && <button type="button" class="quiet" onClick={hand}>Mark two rings by hand</button>}
      {photo.step === "hand" && <button type="button" class="quiet" onClick={() => set((now) => ({ ...now, step: "middle", found: undefined, map: undefined }))}>Look for the rings</button>}
      <button type="button" class="quiet" onClick={away}>Another picture</button>
    </div>
  );
}
