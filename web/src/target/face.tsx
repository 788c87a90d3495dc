import type { Doubted } from "../lib/types";
import { landed, moved, reach, side } from "./words";
import type { AtDistance } from "./types";

// Face draws the holes: where the sight was set for the set-up as it is, the
// fletched arrows land in the middle; everything is drawn against that. It
// looks from the shooting line, and never mirrors.

const R = 100; // half the picture

export function FacePicture({ at, changed, exact }: { at: AtDistance; changed: boolean; exact: boolean }) {
  const scale = R / halfOf(at);
  const x = (m: number) => m * scale, y = (m: number) => -m * scale;
  const rings = [...at.face.zones].reverse();
  const shift = at.right.change, lift = at.up.change;
  return (
    <figure class="face">
      <svg viewBox={`${-R} ${-R} ${2 * R} ${2 * R}`} role="img" aria-label={describe(at, changed)}>
        <rect class="wall" x={-R} y={-R} width={2 * R} height={2 * R} />
        {rings.map((z) => <circle key={z.label} class={`ring ${z.colour}`} r={x(z.radius_m)} />)}
        <path class="cross" d={`M${-R} 0H${R}M0 ${-R}V${R}`} />
        {at.bare.now.si !== null && <Bare d={at.bare.now} dx={0} y={0} x={x} faint={changed} />}
        {changed && <Fletched shift={shift} lift={lift} x={x} y={y} exact={exact} />}
        {!changed && <circle class="hole fletched" r="4" />}
        {changed && at.bare.after.si !== null && <Bare d={at.bare.after} dx={shift.si ?? 0} y={y(lift.si ?? 0)} x={x} />}
        <Ruler half={halfOf(at)} scale={scale} />
      </svg>
      <Key at={at} changed={changed} />
    </figure>
  );
}

// Fletched is the centre of the fletched arrows after the change, with the
// box that holds 90 % of the plausible set-ups.
function Fletched({ shift, lift, x, y, exact }: { shift: Doubted; lift: Doubted; x: (m: number) => number; y: (m: number) => number; exact: boolean }) {
  const box = exact && shift.low !== null && shift.high !== null && lift.low !== null && lift.high !== null;
  return (
    <g>
      {box && <rect class="span" x={x(shift.low!)} y={y(lift.high!)} width={Math.max(1.5, x(shift.high! - shift.low!))} height={Math.max(1.5, -y(lift.high! - lift.low!))} />}
      <circle class="hole was" r="4" />
      <circle class="hole fletched" cx={x(shift.si ?? 0)} cy={y(lift.si ?? 0)} r="4" />
    </g>
  );
}

// Bare is the bare shaft, at the fletched arrows' height: how high it flies is
// not predicted.
function Bare({ d, dx, x, y, faint }: { d: Doubted; dx: number; y: number; x: (m: number) => number; faint?: boolean }) {
  const c = x(d.si! + dx);
  return (
    <g class={faint ? "bare faint" : "bare"}>
      {d.low !== null && d.high !== null && <path class="whisker" d={`M${x(d.low + dx)} ${y}H${x(d.high + dx)}M${x(d.low + dx)} ${y - 3}v6M${x(d.high + dx)} ${y - 3}v6`} />}
      <path class="hole" d={`M${c} ${y - 5}l5 5l-5 5l-5 -5z`} />
    </g>
  );
}

// Ruler gives the picture its scale.
function Ruler({ half, scale }: { half: number; scale: number }) {
  const length = [0.05, 0.1, 0.2, 0.5, 1].find((m) => m >= half / 4) ?? 1;
  return (
    <g class="ruler">
      <path d={`M${-R + 8} ${R - 8}h${length * scale}m0 -3v6m${-length * scale} -6v6`} />
      <text x={-R + 8} y={R - 14}>{length < 1 ? `${length * 100} cm` : "1 m"}</text>
    </g>
  );
}

// Key names the marks and reads them out.
function Key({ at, changed }: { at: AtDistance; changed: boolean }) {
  const bare = at.bare.now.si !== null;
  return (
    <figcaption>
      <ul class="face-key num">
        {changed && <li><Fletching was />fletched as set up</li>}
        <li><Fletching />fletched{changed ? <> after: <strong>{moved(at) ? landed(at, true) : "the same"}</strong></> : ": the sight is set for them"}</li>
        {bare && <li class={changed ? "bare faint" : "bare"}><Diamond />bare{changed ? " as set up" : ""}: <strong>{side(at.bare.now)}</strong></li>}
        {bare && changed && <li class="bare"><Diamond />bare after: <strong>{side(at.bare.after)}</strong></li>}
      </ul>
    </figcaption>
  );
}

const Fletching = ({ was }: { was?: boolean }) => <svg viewBox="-8 -8 16 16" aria-hidden="true"><circle class={was ? "hole was" : "hole fletched"} r="4" /></svg>;
const Diamond = () => <svg viewBox="-8 -8 16 16" aria-hidden="true"><path class="hole" d="M0 -5l5 5l-5 5l-5 -5z" /></svg>;

// halfOf is how far the picture reaches, in whole parts of the face so that it
// does not breathe while a slider moves.
function halfOf(at: AtDistance): number {
  const shift = at.right.change.si ?? 0;
  const far = [at.right.change.low, at.right.change.high, at.right.change.si, at.up.change.low, at.up.change.high, at.up.change.si, at.bare.now.si, at.bare.now.low, at.bare.now.high]
    .concat([at.bare.after.si, at.bare.after.low, at.bare.after.high].map((v) => (v === null ? null : v + shift)))
    .reduce<number>((most, v) => Math.max(most, Math.abs(v ?? 0)), 0);
  const face = at.face.radius_m;
  return face * ([1.05, 1.5, 2, 3, 4, 6, 9].find((k) => k * face >= far * 1.08) ?? 12);
}

function describe(at: AtDistance, changed: boolean): string {
  const what = [`The target at ${at.distance.text}, seen from the shooting line.`];
  if (changed) what.push(moved(at) ? `With the sight left alone, ${landed(at)}.` : "The fletched arrows stay where they are.");
  const d = changed ? at.bare.after : at.bare.now;
  if (d.si !== null) what.push(`The bare shaft lands ${side(d)} of the fletched arrows (${reach(d)}).`);
  return what.join(" ");
}
