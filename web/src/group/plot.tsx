import type { ComponentChildren } from "preact";
import { useEffect, useMemo } from "preact/hooks";
import { unsentSetUps, withUnsent } from "../bow/unsent";
import { useBow } from "../lib/bar";
import { useAwake } from "../lib/awake";
import { useDraft } from "../lib/draft";
import { lazy } from "../lib/lazy";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BowView, Rows, Session, SetUpView } from "../lib/types";
import { noPhoto } from "../photo/state";
import { KeepingFirst } from "../settings/keeping";
import { Field, Note } from "../ui/field";
import { Answer } from "../ui/states";
import { ArrowList, RingPad } from "./arrows";
import { Board } from "./board";
import { useEnds, type ShownEnd } from "./ends";
import { EndList } from "./endlist";
import { call, canUndo, edit, followed, nextArrow, nextIsBare, none, numbersOf, placedOf, reopen, undo, type Belongs, type Plot } from "./plotstate";
import { useOpenEnd, usePlotting, type Plotting } from "./plotting";
import { Running } from "./running";
import type { End, Face } from "./types";
import { warmed } from "./warm";
import { useFaces, useSessions, With, WithFold } from "./with";

const photoPanel = () => import("../photo/panel").then((m) => m.PhotoFace);
const PhotoFace = lazy(photoPanel);

// PlotPage plots ends of a bow outside of a trial.
export function PlotPage({ bowId }: { bowId: string }) {
  const bow = useGet<BowView>(`/bows/${bowId}`);
  const faces = useFaces();
  useBow(bow.value);
  useTitle("Plot an end");
  return (
    <Answer of={bow} what="Opening the bow…" title="Plot an end">
      {(view) => (
        <Answer of={faces} quiet what="Opening the faces…">
          {(f) => (view.setup ? <Page view={view} setup={withUnsent(view, bow.at).setup!} faces={f.rows} /> : <Note kind="warn">Arrows belong to a set-up. <a href={`/bows/${bowId}`}>Enter the bow's settings first</a></Note>)}
        </Answer>
      )}
    </Answer>
  );
}

function Page({ view, setup, faces }: { view: BowView; setup: SetUpView; faces: Face[] }) {
  const id = view.bow.id;
  const known = useGet<Rows<SetUpView>>(`/bows/${id}/setups`).value?.rows ?? [];
  const setups = [...unsentSetUps(id).filter((u) => !known.some((k) => k.setup.id === u.setup.id)), ...known];
  if (setups.length === 0) setups.push(setup);
  const sessions = useSessions(id).value?.rows ?? [];
  const today = ofToday(sessions);
  return (
    <>
      <div class="plot-head"><h1>Plot an end</h1><a class="pad" href={`/bows/${id}/groups`}>Groups</a></div>
      <PlotArea bow={view} draft={`plot:${id}`} to={{ bow: id }} given={{}} follow={{ setup: setup.setup.id, today }} faces={faces} setups={setups} sessions={sessions} />
    </>
  );
}

// ofToday is the session of this day that is still going on.
function ofToday(list: Session[]): Session | undefined {
  const last = list.at(-1);
  return last && new Date(last.at).toDateString() === new Date().toDateString() ? last : undefined;
}

interface AreaProps { bow: BowView; draft: string; to: Belongs; given: Partial<Plot>; faces: Face[]; setups: SetUpView[]; sessions: Session[]; follow?: { setup: string; today?: Session }; after?: ComponentChildren; onEnds?: (ends: ShownEnd[]) => void }

// PlotArea is the face with everything around it; a stop of a trial holds one
// too, with what comes after it.
export function PlotArea({ bow, draft, to, given, faces, setups, sessions, follow, after, onEnds }: AreaProps) {
  useAwake();
  const [plot, setPlot] = useOpenEnd(draft, given);
  const query = to.trial ? `trial=${to.trial}` : `session=${plot.session}`;
  const mine = (e: End) => (to.trial ? e.trial === to.trial && e.stop === to.stop : e.session === plot.session);
  const all = useEnds(query, mine);
  const ends = (all.value ?? []).filter((s) => mine(s.end));
  const p = usePlotting(plot, setPlot, to, ends);
  const [photo, setPhoto] = useDraft(`photo:${draft}`, noPhoto), itsOwn = photo.end === p.plot.open.id, pictured = itsOwn && !photo.hidden;
  useEffect(() => { void photoPanel().catch(() => undefined); }, []); // fetched while there is a network: it is opened where there is none
  useEffect(() => { onEnds?.(ends); }, [ends.length]);
  useEffect(() => { if (follow) p.set((now) => followed(now, follow.setup, follow.today, new Date())); }, [follow?.setup, follow?.today?.id]);
  const face = faces.find((f) => f.key === (p.plot.correcting?.face || p.plot.face)) ?? faces[0]!;
  const set = (more: Partial<Plot>) => p.set((now) => ({ ...now, ...more }));
  const shaft = shaftOf(setups, p.plot.setup);
  const earlier = useMemo(() => ends.filter((s) => (s.end.face || "blank") === face.key && s.end.id !== p.plot.correcting?.id).flatMap((s) => placedOf(s.end.impacts)), [all.value, face.key, p.plot.correcting?.id]);
  const board = { face, span: p.plot.span, shaft, impacts: p.plot.open.impacts, earlier, picked: p.plot.picked, enlarge: p.plot.enlarge, onPlace: p.onPlace, label: `The face, ${face.name}: ${saysNext(p.plot)}` };
  useEffect(() => warmed(board, p.plot, to), []);
  return (
    <div class="plot two wide-left">
      <div>
        <WithFold plot={p.plot} faces={faces}><With {...{ plot: p.plot, set, faces, setups, sessions }} trial={Boolean(to.trial)} /></WithFold>
        <Switches plot={p.plot} set={set} edit={(at, arrow) => p.set((now) => edit(now, at, { arrow }))} face={face} pictured={pictured} picture={() => setPhoto((now) => (itsOwn ? { ...now, hidden: !now.hidden } : { ...noPhoto, end: p.plot.open.id }))} />
        <Says p={p} />
        {p.plot.rings ? <RingPad face={face} label="Ring of the next arrow" onRing={(r) => p.onRing((now) => call(now, r))} />
          : pictured ? <PhotoFace draft={draft} photo={photo} set={setPhoto} board={board} /> : <Board {...board} />}
        {face.zones.length === 0 && <p class="help">A line every 10 cm from the middle of the paper.</p>}
        <Acts p={p} after={after} />
      </div>
      <div>
        <ArrowList plot={p.plot} set={p.set} face={face} shaft={shaft} />
        <Field label="Note on this end" lines={1} value={p.plot.open.note} onInput={(v) => p.set((now) => ({ ...now, open: { ...now.open, note: v } }))} name="end_note" />
        <Running ends={ends} plot={p.plot} />
        <EndList ends={ends} faces={faces} shaft={shaft} mine={mine} correct={(end) => p.set((now) => reopen(now, end))} open={p.plot.open.corrects} />
        <KeepingFirst />
        {to.trial ? <p class="row"><a class="button" href={`/bows/${bow.bow.id}/ends`}>Tables: CSV in and out</a></p> : <SessionActs p={p} bow={bow.bow.id} ends={ends} />}
      </div>
    </div>
  );
}

// SessionActs end the visit, and lead to what belongs to it: its report, tables
// and what was taken back. A session without an end in it is nothing to end.
function SessionActs({ p, bow, ends }: { p: Plotting; bow: string; ends: ShownEnd[] }) {
  const { session, ended } = p.plot, some = ends.length > 0 || p.plot.open.impacts.length > 0;
  return (
    <>
      {ended && <Note><p>The session is ended; the next end begins a new one.</p><a class="button" href={`/sheets/session/${ended}`}>Report of the session</a></Note>}
      <p class="row">
        {some && !p.plot.open.corrects && <button type="button" class="quiet" onClick={p.endSession}>End the session</button>}
        {ends.some((s) => !s.unsent) && <a class="button" href={`/sheets/session/${session}`}>Report of this session</a>}
        <a class="button" href={`/bows/${bow}/ends`}>Tables: CSV in and out</a>
        <a class="button" href={`/bows/${bow}/taken-back?session=${ended ?? session}`}>Taken back</a>
      </p>
    </>
  );
}

// shaftOf is the shaft's diameter in metres: of the set-up, else a usual one.
export function shaftOf(setups: SetUpView[], id: string): number {
  return setups.find((s) => s.setup.id === id)?.shown["/arrow/diameter"]?.si ?? 0.0055;
}

function saysNext(p: Plot): string {
  const moved = p.open.impacts[p.picked];
  if (moved) return `moving ${moved.arrow ? `number ${moved.arrow}` : `arrow ${p.picked + 1}`}`;
  const n = nextArrow(p);
  return `next ${nextIsBare(p) ? "bare shaft" : "arrow"} ${n || p.open.impacts.length + 1}`;
}

// Says tells in one line what the next tap does; it never grows, so that the
// face stays where it is.
function Says({ p }: { p: Plotting }) {
  const { plot, full } = p, { open } = plot;
  return (
    <>
      <p class="says" role="status">
        {open.corrects ? <strong>Correcting end {open.number}</strong> : <>End <strong>{open.number}</strong>, {open.impacts.length} of {plot.perEnd}</>}: {full && plot.picked < 0 && !open.corrects ? "complete" : saysNext(plot)}
      </p>
      <p class="visually-hidden" role="status">{p.said}</p>
      {p.noRoom && <Note kind="bad">This device has no room left to keep what you note. It is not lost while this page stays open: connect to the notebook so that what waits can go.</Note>}
    </>
  );
}

// Switches are what stays as it is from arrow to arrow, and the row of
// numbers.
function Switches({ plot, set, edit: put, face, pictured, picture }: { pictured: boolean; picture: () => void; plot: Plot; set: (more: Partial<Plot>) => void; edit: (at: number, arrow: string) => void; face: Face }) {
  return (
    <>
      <div class="taps" role="group" aria-label="What is plotted">
        {plot.bareFrom === undefined && <button type="button" aria-pressed={!plot.bare} onClick={() => set({ bare: false })}>Fletched</button>}
        {plot.bareFrom === undefined && <button type="button" aria-pressed={plot.bare} onClick={() => set({ bare: true })}>Bare</button>}
        {face.zones.length > 0 && <button type="button" aria-pressed={plot.rings} onClick={() => set({ rings: !plot.rings })}>Rings only</button>}
        {face.zones.length > 0 && !plot.rings && <button type="button" aria-pressed={pictured} onClick={picture}>From a photo</button>}
      </div>
      {plot.bareFrom !== undefined && <p class="help">Shafts numbered from {plot.bareFrom} on are the bare ones.</p>}
      <Numbers plot={plot} set={set} put={put} />
    </>
  );
}

// Numbers are one tap each: the number of the next arrow, or of the one that
// was picked.
function Numbers({ plot, set, put }: { plot: Plot; set: (more: Partial<Plot>) => void; put: (at: number, arrow: string) => void }) {
  const numbers = numbersOf(plot.numbers), picked = plot.open.impacts[plot.picked];
  if (numbers.length === 0) return null;
  const now = picked ? picked.arrow : nextArrow(plot);
  const tap = (n: string) => (picked ? put(plot.picked, now === n ? "" : n) : set({ next: now === n ? none : n }));
  return (
    <div class="taps numbers-row" role="group" aria-label={picked ? "Number of this arrow" : "Number of the next arrow"}>
      {numbers.map((n) => {
        const used = plot.open.impacts.some((i) => i.arrow === n);
        return <button type="button" key={n} class={used ? "used" : ""} aria-pressed={now === n} aria-label={used ? `${n}, plotted` : n} onClick={() => tap(n)}>{n}{used && <sup>✓</sup>}</button>;
      })}
    </div>
  );
}

// Acts are undo and the end of an end; once an end is noted, what comes after
// it takes the large button's place.
function Acts({ p, after }: { p: Plotting; after?: ComponentChildren }) {
  const { plot } = p, { open } = plot;
  const idle = open.impacts.length === 0 && !open.corrects;
  return (
    <>
      <div class="actions-row">
        <button type="button" class="quiet" disabled={!canUndo(plot)} onClick={() => p.set(undo)}>{open.past.length === 0 && open.impacts.length === 0 && plot.last ? `Undo: open end ${plot.last.number}` : "Undo"}</button>
        {open.corrects && <button type="button" class="quiet" onClick={p.leave}>Leave it as it was</button>}
        {!plot.rings && <button type="button" class="quiet" aria-pressed={plot.enlarge} onClick={() => p.set((now) => ({ ...now, enlarge: !now.enlarge }))}>Enlarge first</button>}
      </div>
      {idle && after ? after : <button type="button" class="main" disabled={open.impacts.length === 0} onClick={p.done}>{open.corrects ? "Save the correction" : "End done"}</button>}
    </>
  );
}
