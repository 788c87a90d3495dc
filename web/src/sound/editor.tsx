import { useEffect, useRef, useState } from "preact/hooks";
import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { asFound, eventNames, move, remove, type Edits, type EventName, type Mark } from "./edits";
import type { Change } from "./page";
import { Play } from "./play";
import { Spectro } from "./spectro";
import type { HeardSound } from "./types";
import { Wave, type Span } from "./wave";

interface Props {
  heard: HeardSound; marks: Mark[]; mark?: Mark; cursor: number; setCursor: (t: number) => void; view: Span; span: number; setSpan: (s: number) => void;
  event: EventName; setEvent: (e: EventName) => void;
  edits: Edits; change: Change; undo?: () => void; choose: (m: Mark) => void; addHere: () => void;
}

const spans = [8, 3, 1.2, 0.4, 0.12, 0.04]; // seconds that are looked at, wide to close

// Editor moves, removes and adds the events of a shot with buttons, arrow keys
// or a tap; nothing needs dragging.
export function Editor(p: Props) {
  const { heard, mark } = p;
  const { event, setEvent } = p;
  const comma = useComma();
  const at = mark ? mark[event] : p.cursor;
  const step = (by: number) => {
    if (!mark) return p.setCursor(p.cursor + 10 * by); // a shot that was missed may be far off
    const from = mark[event] ?? (event === "impact" ? mark.release + 0.1 : mark.release - 0.2);
    p.change(move(p.edits, mark, event, from + by, heard.seconds), `${mark.key}${event}`);
  };
  const keys = (e: KeyboardEvent) => {
    const by = e.shiftKey ? 0.01 : e.altKey ? 0.0001 : 0.001;
    if (e.key === "ArrowLeft") step(-by);
    else if (e.key === "ArrowRight") step(by);
    else if (e.key === "PageDown") step(-0.01);
    else if (e.key === "PageUp") step(0.01);
    else if ((e.key === "Delete" || e.key === "Backspace") && mark) p.change(remove(p.edits, mark, event));
    else if (e.key === "z" && (e.ctrlKey || e.metaKey)) p.undo?.();
    else return;
    e.preventDefault();
  };
  const zoom = (by: number) => p.setSpan(spans[Math.max(0, Math.min(spans.length - 1, spans.indexOf(p.span) + by))]!);
  const shot = mark && p.marks.indexOf(mark) + 1;
  return (
    <div class="editor">
      <div
        class="slider" role="slider" tabIndex={0} aria-label={mark ? `${event} of shot ${shot}` : "Cursor"} aria-valuemin={0} aria-valuemax={round(heard.seconds)}
        aria-valuenow={round(at ?? 0)} aria-valuetext={at === null ? "none" : `${at.toFixed(4)} seconds`} onKeyDown={keys}
      >
        <Wave recording={heard.recording.id} span={p.view} height={190} marks={p.marks} chosen={mark} event={mark && event} cursor={mark ? undefined : p.cursor}
          onTap={(t) => (mark ? p.change(move(p.edits, mark, event, t, heard.seconds)) : p.setCursor(t))} />
      </div>
      <p class="where num">
        {mark ? <><strong>Shot {shot}, {event}</strong> {at === null ? "none" : `${number(at, 4, comma)} s`}{mark.struck ? " (struck out)" : ""}</> : <><strong>Cursor</strong> {number(p.cursor, 3, comma)} s</>}
        {mark && <span class="doubt"> {foundWords(mark, event, comma)}</span>}
      </p>
      {mark && (
        <div class="taps" role="group" aria-label="What to move">
          {eventNames.map((n) => <button type="button" key={n} aria-pressed={n === event} onClick={() => setEvent(n)}>{n === "clicker" ? "Clicker" : n === "release" ? "Release" : "Impact"}</button>)}
        </div>
      )}
      <p class="faint small">{mark ? `Move the ${event} by so many milliseconds:` : "Move the cursor by so many hundredths of a second:"}</p>
      <div class="taps steps" role="group" aria-label={mark ? `Move the ${event}` : "Move the cursor"}>
        {([-10, -1, -0.1, 0.1, 1, 10] as const).map((ms) => (
          <Repeat key={ms} label={`${ms < 0 ? "−" : "+"}${number(Math.abs(ms), ms % 1 ? 1 : 0, comma)}`} act={() => step(ms / 1000)} />
        ))}
      </div>
      <div class="row">
        <button type="button" class="quiet" onClick={() => zoom(1)} disabled={p.span === spans.at(-1)}>Closer</button>
        <button type="button" class="quiet" onClick={() => zoom(-1)} disabled={p.span === spans[0]}>Wider</button>
        <Play src={`/api/v1/recordings/${heard.recording.id}/clip?from=${Math.max(0, (mark?.release ?? p.cursor) - 0.3).toFixed(3)}&to=${((mark?.release ?? p.cursor) + 0.9).toFixed(3)}&raise=true`} label="Play" />
        <button type="button" class="quiet" onClick={p.undo} disabled={!p.undo}>Undo</button>
      </div>
      <div class="row">
        {mark && !mark.struck && event !== "release" && at !== null && <button type="button" class="quiet" onClick={() => p.change(remove(p.edits, mark, event))}>No {event} is heard</button>}
        {mark && !mark.struck && event !== "release" && at === null && <button type="button" class="quiet" onClick={() => step(0)}>Add the {event}</button>}
        {mark && !mark.struck && <button type="button" class="quiet" onClick={() => p.change(remove(p.edits, mark, "release"))}>This is no shot</button>}
        {mark?.auto && mark.changed && <button type="button" class="quiet" onClick={() => p.change(asFound(p.edits, mark))}>{mark.struck ? "It is a shot after all" : "Put back as found"}</button>}
        {mark ? <button type="button" class="quiet" onClick={() => p.setCursor(mark.release + 1)}>A shot was missed …</button>
          : <button type="button" onClick={p.addHere}>Add a shot at the cursor</button>}
        {!mark && p.marks.length > 0 && <button type="button" class="quiet" onClick={() => p.choose(nearest(p.marks, p.cursor))}>Back to the nearest shot</button>}
      </div>
      <p class="doubt">{mark ? "Arrow keys move by 1 ms, with Shift 10 ms, with Alt 0.1 ms; Delete removes; Ctrl+Z undoes. A tap on the waveform puts the event there. Dashed: as the program found it." : "Bring the cursor to the release that was missed: with the buttons, the arrow keys, or a tap on either waveform."}</p>
      {p.span < 4 && <Spectro recording={heard.recording.id} span={p.view} />}
    </div>
  );
}

const round = (t: number) => Math.round(t * 1e4) / 1e4;
const nearest = (marks: Mark[], t: number): Mark => marks.reduce((a, m) => (Math.abs(m.release - t) < Math.abs(a.release - t) ? m : a));

// foundWords says where the program had found it.
function foundWords(m: Mark, event: EventName, comma: boolean): string {
  if (!m.auto) return "added by hand";
  const found = event === "release" ? m.auto.release_s : m.auto[`${event}_s`];
  if (found === null) return "the program found none";
  const now = m[event];
  if (now !== null && Math.abs(now - found) < 5e-5) return "as found";
  return `found at ${number(found, 4, comma)} s${now === null ? "" : `, moved by ${number(1000 * (now - found), 1, comma)} ms`}`;
}

// Repeat is a button that goes on for as long as it is held.
function Repeat({ label, act }: { label: string; act: () => void }) {
  const latest = useRef(act);
  latest.current = act;
  const timer = useRef(0);
  const [held, setHeld] = useState(false);
  useEffect(() => {
    if (!held) return;
    timer.current = setTimeout(() => { timer.current = setInterval(() => latest.current(), 90); }, 450);
    return () => { clearTimeout(timer.current); clearInterval(timer.current); };
  }, [held]);
  return <button type="button" class="num" onClick={act} onPointerDown={() => setHeld(true)} onPointerUp={() => setHeld(false)} onPointerLeave={() => setHeld(false)}>{label}</button>;
}
