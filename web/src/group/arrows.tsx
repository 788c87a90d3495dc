import { isPlaced, zoneOf } from "./geometry";
import { edit, remove, type Plot } from "./plotstate";
import type { Face, Impact } from "./types";
import { usePlaceWords } from "./words";

// ringsOf are the labels a face prints, in the order of a score sheet.
export const ringsOf = (face: Face): string[] => [...face.zones.map((z) => z.label), "M"];

// RingPad notes an arrow by its ring alone: one tap an arrow.
export function RingPad({ face, onRing, label }: { face: Face; onRing: (ring: string) => void; label: string }) {
  if (face.zones.length === 0) return <p class="note warn">Blank paper has no rings to call: plot places, or choose a printed face.</p>;
  return (
    <div class="ring-pad" role="group" aria-label={label}>
      {ringsOf(face).map((r) => <button type="button" key={r} onClick={() => onRing(r)} aria-label={r === "M" ? "M, a miss" : r}>{r}</button>)}
    </div>
  );
}

interface Props { plot: Plot; set: (next: (now: Plot) => Plot) => void; face: Face; shaft: number }

// ArrowList shows every arrow of the open end; a tap opens what can be
// changed about it.
export function ArrowList({ plot, set, face, shaft }: Props) {
  const { impacts } = plot.open;
  if (impacts.length === 0) return null;
  const sum = impacts.reduce((n, i) => n + (zoneOf(face, i, shaft)?.points ?? 0), 0);
  return (
    <section aria-label="Arrows of this end">
      <ul class="arrow-list">
        {impacts.map((i, k) => <Line key={k} {...{ plot, set, face, shaft }} i={i} at={k} />)}
      </ul>
      {face.zones.length > 0 && <p class="num">{impacts.length} {impacts.length === 1 ? "arrow" : "arrows"}, {sum} points</p>}
    </section>
  );
}

function Line({ plot, set, face, shaft, i, at }: Props & { i: Impact; at: number }) {
  const words = usePlaceWords();
  const open = plot.picked === at;
  const zone = zoneOf(face, i, shaft);
  return (
    <li>
      <button type="button" class="line" aria-expanded={open} onClick={() => set((now) => ({ ...now, picked: open ? -1 : at }))}>
        <span class="which">{i.arrow ? `No. ${i.arrow}` : `Arrow ${at + 1}`}{i.bare && <span class="tag">bare</span>}</span>
        <span class="ring">{zone?.label ?? ""}</span>
        <span class="at">{isPlaced(i) ? words({ x: i.x_m, y: i.y_m }) : "ring only"}</span>
      </button>
      {open && <Edit {...{ plot, set, face, shaft }} i={i} at={at} />}
    </li>
  );
}

function Edit({ plot, set, face, i, at }: Props & { i: Impact; at: number }) {
  return (
    <div class="edit">
      <p class="help">{plot.rings ? "Tap what it scored, or its number, or:" : "Tap the face where it belongs, or its number, or:"}</p>
      <div class="row">
        <button type="button" class="quiet" aria-pressed={i.bare ?? false} onClick={() => set((now) => edit(now, at, { bare: !i.bare }))}>{i.bare ? "It was fletched" : "It was bare"}</button>
        {isPlaced(i) && face.zones.length > 0 && <CalledRing face={face} ring={i.ring} set={(ring) => set((now) => edit(now, at, { ring }))} />}
        <button type="button" class="quiet" onClick={() => set((now) => remove(now, at))}>Remove it</button>
      </div>
    </div>
  );
}

// CalledRing lets the ring as called stand against the place: a judge's call
// on a line counts.
function CalledRing({ face, ring, set }: { face: Face; ring?: string; set: (ring: string | undefined) => void }) {
  return (
    <label class="row">
      <span>called</span>
      <select aria-label="Ring as it was called" value={ring ?? ""} onChange={(e) => set(e.currentTarget.value || undefined)}>
        <option value="">as plotted</option>
        {ringsOf(face).map((r) => <option key={r} value={r}>{r}</option>)}
      </select>
    </label>
  );
}
