import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { readDraft, useDraft } from "../lib/draft";
import { api, get, type Problem } from "../lib/http";
import { record, waiting } from "../lib/outbox";
import { asProblem, useGet, useLoaded } from "../lib/load";
import { useComma } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BowView, Rows } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { number, when } from "../lib/words";
import { useUnsent } from "../trial/send";
import { Facts, Note } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { add, editsOf, marksOf, type Edits, type EventName, type Mark } from "./edits";
import { Editor } from "./editor";
import { ShotFacts } from "./shotfacts";
import { measuredOf, ShotList } from "./shotlist";
import type { HeardSound, Onsets } from "./types";
import { Wave, type Span } from "./wave";

// Held is what is being changed and not saved yet, with the steps back.
interface Held { now: Edits; before: Edits[]; from?: string }

// RecordingPage shows one recording: its waveform with the shots found, which
// can be put right by hand; what was measured; how it sounds.
export function RecordingPage({ id }: { id: string }) {
  const heard = useGet<HeardSound>(`/recordings/${id}/listening`);
  const unsent = useUnsent();
  useEffect(() => { heard.again(); }, [unsent]);
  const bow = useGet<BowView>(heard.value?.recording.bow ? `/bows/${heard.value.recording.bow}` : null);
  useBow(bow.value);
  useTitle(heard.value?.recording.name || "Recording");
  return <Answer of={heard} what="Listening … half an hour of sound takes some seconds." title="Recording">{(value) => <Opened heard={value} again={heard.again} />}</Answer>;
}

// inForce is the correction that counts: the newest that waits on this device,
// else the notebook's.
function inForce(heard: HeardSound): Onsets | undefined {
  const kept = waiting().filter((w) => w.path.includes("/onsets/") && (w.body as Onsets).recording === heard.recording.id).at(-1);
  return kept ? { ...(kept.body as Onsets), id: kept.path.split("/").pop()! } : heard.onsets;
}

function Opened({ heard, again }: { heard: HeardSound; again: () => void }) {
  const { recording } = heard;
  const draft = `onsets:${recording.id}`;
  const saved = inForce(heard);
  const [held, set, clear] = useDraft<Held | null>(draft, null);
  const edits = held?.now ?? editsOf(saved);
  const marks = useMemo(() => marksOf(heard.automatic, edits), [heard.automatic, edits.corrections, edits.ties]);
  const [begin] = useState(() => asked(marks, heard));
  const [key, setKey] = useState<string | undefined>(begin?.key);
  const chosen = marks.find((m) => m.key === key);
  const [cursor, setCursor] = useState(begin?.release ?? heard.seconds / 2);
  const [event, setEvent] = useDraft<EventName>("onsets:event", "release");
  const [sight, setSight] = useState({ center: cursor, span: 1.2 }); // stands still while an event is moved
  const last = useRef({ what: "", at: 0 });
  // change makes one step; a run of small moves of one event is one step back.
  const change = (next: Edits, what = "") => {
    const run = what !== "" && what === last.current.what && Date.now() - last.current.at < 1500;
    last.current = { what, at: Date.now() };
    set((now) => ({ now: next, before: run && now ? now.before : [...(now?.before ?? []), edits].slice(-100), from: now?.from ?? saved?.id }));
  };
  const undo = () => {
    last.current.what = "";
    if (!held) return;
    const before = held.before.at(-1);
    if (held.before.length <= 1 || !before) clear();
    else set({ ...held, now: before, before: held.before.slice(0, -1) });
  };
  // done ends the changing; what was moved while it was saved goes on from there.
  const done = (of: Edits, id: string) => {
    if (JSON.stringify(readDraft<Held | null>(draft)?.now) === JSON.stringify(of)) clear();
    else set((now) => now && { ...now, from: id });
    again();
  };
  const at = chosen ? (chosen[event] ?? chosen.release) : cursor;
  const view: Span = viewOf(sight.center, sight.span, heard.seconds);
  useEffect(() => { if (at < view.from || at > view.to) setSight({ ...sight, center: at }); }, [at, view.from, view.to]);
  const choose = (m: Mark) => { setKey(m.key); setCursor(m.release); setSight((now) => ({ ...now, center: m.release })); };
  const look = (t: number) => { setKey(undefined); setCursor(Math.max(0, Math.min(heard.seconds, t))); };
  const addHere = () => {
    const next = add(edits, cursor);
    change(next);
    setKey(`m${next.corrections.length - 1}`);
  };
  return (
    <>
      <p class="crumb">{recording.trial ? <a href={`/trials/${recording.trial}`}>Trial</a> : recording.bow ? <a href={`/bows/${recording.bow}/sound`}>Sound of this bow</a> : <a href="/">Bench</a>}</p>
      <h1>{recording.name || "Recording"}</h1>
      <About heard={heard} />
      {heard.warnings.map((w) => <Note kind="warn" key={w}>{w}</Note>)}
      <section class="card" aria-label="Waveform">
        <h2>Shots <span class="faint">{marks.filter((m) => !m.struck).length} counted, {heard.automatic.length} found</span></h2>
        <Wave recording={recording.id} span={{ from: 0, to: heard.seconds }} height={110} marks={marks} chosen={chosen} whole view={view}
          onTap={(t) => { const near = marks.reduce<Mark | undefined>((a, m) => (!a || Math.abs(m.release - t) < Math.abs(a.release - t) ? m : a), undefined); if (near && Math.abs(near.release - t) < heard.seconds / 60) choose(near); else look(t); }} />
        <ShotList marks={marks} chosen={chosen} choose={choose} shots={heard.shots} />
        <Editor heard={heard} marks={marks} mark={chosen} cursor={cursor} setCursor={look} view={view} span={sight.span} setSpan={(span) => setSight({ center: at, span })} event={event} setEvent={setEvent} edits={edits}
          change={change} undo={held ? undo : undefined} choose={choose} addHere={addHere} />
        <Save heard={heard} held={held} edits={edits} saved={saved} done={done} drop={clear} />
      </section>
      {chosen && <ShotFacts key={chosen.key} heard={heard} mark={chosen} edits={edits} change={change} view={view} dirty={held !== null} />}
      <History id={recording.id} turn={saved?.id} />
    </>
  );
}

// asked is the shot that the address names by its number, else the first.
function asked(marks: Mark[], heard: HeardSound): Mark | undefined {
  const number = Number(new URLSearchParams(location.search).get("shot"));
  return marks.find((m) => measuredOf(m, heard.shots)?.number === number) ?? marks[0];
}

// viewOf is the piece around a moment, a third of it before.
function viewOf(center: number, span: number, seconds: number): Span {
  const from = Math.max(0, Math.min(center - span / 3, seconds - span));
  return { from, to: Math.min(seconds, from + span) };
}

function About({ heard }: { heard: HeardSound }) {
  const r = heard.recording, comma = useComma();
  return (
    <details>
      <summary>{number(heard.seconds, heard.seconds < 20 ? 1 : 0, comma)} s of {heard.format}, {Math.round(heard.sample_rate_hz / 100) / 10} kHz{heard.clipped > 0 ? `, ${heard.clipped} samples clipped` : ""}</summary>
      <Facts rows={[
        ["Recorded", when(r.at)], ["Phone", r.phone || "not stored"], ["Where it lay", r.where || "not stored"], ["Place", r.place || "not stored"],
        ["Archer to bale", r.distance_to_bale || "not stored"], ["Automatic gain", r.auto_gain ? "was on: levels mean nothing" : "not known to be on"],
      ]} />
      <p><a class="button quiet" href={`/api/v1/recordings/${r.id}/sound`} download={r.name || "recording"}>The file as it was sent</a></p>
    </details>
  );
}

interface SaveProps { heard: HeardSound; held: Held | null; edits: Edits; saved?: Onsets; done: (of: Edits, id: string) => void; drop: () => void }

// Save stores the corrections as a new record; older ones stay.
function Save({ heard, held, edits, saved, done, drop }: SaveProps) {
  const [busy, setBusy] = useState(false);
  const [said, setSaid] = useState("");
  const [problem, setProblem] = useState<Problem>();
  const draft = `onsets:${heard.recording.id}:id`;
  const [id, setId, forget] = useDraft<{ id: string; as: string } | null>(draft, null);
  if (!held) return said ? <p role="status">{said}</p> : null;
  const save = async () => {
    const body = { recording: heard.recording.id, corrections: edits.corrections, ties: edits.ties }, as = JSON.stringify(body);
    const made = id?.as === as ? id : { id: uuidv7(), as }; // a second try is the same record
    setId(made);
    setBusy(true);
    setProblem(undefined);
    try {
      const how = await record(`${api}/onsets/${made.id}`, body);
      setSaid(how === "sent" ? "Saved. What the program had found is kept beside it." : "Kept on this device; it goes to the notebook when that answers.");
      forget();
      done(edits, made.id);
    } catch (e) {
      setProblem(asProblem(e));
    }
    setBusy(false);
  };
  const stale = held.from !== saved?.id;
  return (
    <div class="save">
      {stale && <Note kind="warn">These corrections were saved from elsewhere meanwhile. Saving puts yours in force; the others stay in the history.</Note>}
      {problem && <Wrong problem={problem} />}
      <button type="button" class="main" disabled={busy} onClick={() => void save()}>{busy ? "Saving …" : "Save the corrections"}</button>
      <button type="button" class="quiet" onClick={drop}>Forget what I changed</button>
    </div>
  );
}

// History lists every correction ever saved: nothing is overwritten.
function History({ id, turn }: { id: string; turn?: string }) {
  const list = useLoaded<Rows<Onsets>>(`${id} ${turn}`, (signal) => get<Rows<Onsets>>(`${api}/recordings/${id}/onsets`, signal));
  const rows = [...(list.value?.rows ?? [])].reverse();
  if (rows.length === 0) return null;
  return (
    <details>
      <summary>Corrections so far ({rows.length})</summary>
      <ul class="lines">{rows.map((o, i) => <li key={o.id}>{when(o.at)}: {words(o)}{i === 0 ? " (in force)" : ""}</li>)}</ul>
    </details>
  );
}

function words(o: Onsets): string {
  const struck = o.corrections.filter((c) => c.no_shot).length, added = o.corrections.filter((c) => c.auto_release_s === undefined).length, ties = o.ties?.length ?? 0;
  const parts = [`${o.corrections.length - struck - added} moved`, `${struck} struck out`, `${added} added`, `${ties} tied`];
  return o.corrections.length + ties === 0 ? "back to what was found" : parts.filter((p) => !p.startsWith("0 ")).join(", ");
}

export type Change = (next: Edits, what?: string) => void;
