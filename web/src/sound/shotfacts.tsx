import { useState } from "preact/hooks";
import { api, get } from "../lib/http";
import { useGet, useLoaded } from "../lib/load";
import { useComma } from "../lib/me";
import { number, when } from "../lib/words";
import type { ReadingView, Rows } from "../lib/types";
import type { Measure } from "../trial/types";
import { Chart } from "../ui/chart";
import { Choice, Field, Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { tieTo, type Edits, type Mark } from "./edits";
import type { Change } from "./page";
import { measuredOf } from "./shotlist";
import type { DecayView, HeardShot, HeardSound } from "./types";
import type { Span } from "./wave";

interface Props { heard: HeardSound; mark: Mark; edits: Edits; change: Change; view: Span; dirty: boolean }

// ShotFacts is one shot: what was measured, how it dies away, what it belongs
// to.
export function ShotFacts(p: Props) {
  const shot = measuredOf(p.mark, p.heard.shots);
  const moved = shot && (Math.abs(shot.release_s - p.mark.release) > 5e-5 || (shot.impact_s ?? -1) !== (p.mark.impact ?? -1));
  return (
    <div class="two">
      <section class="card">
        <h2>Measured</h2>
        <p class="doubt">{p.mark.why}</p>
        {p.mark.struck && <p>Struck out: it is not measured and does not count.</p>}
        {moved && <Note>Measured as last saved; save the corrections to measure anew.</Note>}
        {!shot && !p.mark.struck && <Note>Save the corrections to measure this shot.</Note>}
        {shot && !p.mark.struck && <Measured shot={shot} />}
      </section>
      <div>
        <Belongs {...p} />
        {shot && !p.mark.struck && <Decay recording={p.heard.recording.id} shot={shot.number} onsets={p.heard.onsets?.id} />}
      </div>
    </div>
  );
}

function Measured({ shot }: { shot: HeardShot }) {
  const comma = useComma();
  return (
    <>
      <div class="scroll" tabIndex={0} role="region" aria-label="Measures of this shot">
        <table class="measures">
          <thead><tr><th scope="col">measure</th><th scope="col">value</th><th scope="col">95 % interval, or why not</th></tr></thead>
          <tbody>{shot.measures.map((m) => <Row key={m.name} m={m} label={m.label} comma={comma} />)}</tbody>
        </table>
      </div>
      <p class="doubt">Over {number(1000 * shot.window_s, 0, comma)} ms from the release to just before the impact. Levels have no fixed zero: they compare only inside one arrangement of phone and place.</p>
      <h3>What rings on</h3>
      {shot.modes.length === 0 && <p>No mode: {shot.no_modes_why || "none was stable"}.</p>}
      {shot.modes.length > 0 && (
        <table>
          <thead><tr><th scope="col">frequency</th><th scope="col">damping</th></tr></thead>
          <tbody>{shot.modes.map((m) => (
            <tr key={m.frequency.text}><td class="num">{m.frequency.text} <span class="doubt">{interval(m.frequency, comma)}</span></td><td class="num">{m.damping.text} <span class="doubt">{m.damping.value === null ? m.damping.why : interval(m.damping, comma)}</span></td></tr>
          ))}</tbody>
        </table>
      )}
    </>
  );
}

function Row({ m, label, comma }: { m: Measure; label: string; comma: boolean }) {
  return <tr><td>{label}</td><td class="num">{m.text}</td><td class="doubt num">{m.value === null ? m.why : [interval(m, comma), m.why].filter(Boolean).join("; ")}</td></tr>;
}

function interval(m: Measure, comma: boolean): string {
  if (m.value === null) return "";
  if (m.low === null || m.high === null) return "no doubt to give";
  const digits = m.high - m.low < 1 ? 2 : m.high - m.low < 20 ? 1 : 0;
  return `${number(m.low, digits, comma)} to ${number(m.high, digits, comma)} ${m.unit}`;
}

const octaves = ["0", "125", "250", "500", "1000", "2000", "4000", "8000"] as const;

function Decay({ recording, shot, onsets }: { recording: string; shot: number; onsets?: string }) {
  const [octave, setOctave] = useState<(typeof octaves)[number]>("0");
  const comma = useComma();
  const path = `${api}/recordings/${recording}/shots/${shot}/decay?octave=${octave}`;
  const got = useLoaded<DecayView>(`${path} ${onsets}`, (signal) => get<DecayView>(path, signal)); // anew when onsets moved
  return (
    <section class="card">
      <h2>How it dies away</h2>
      <Choice label="Part of the sound" value={octave} onInput={setOctave} options={octaves.map((o) => [o, o === "0" ? "the whole, A-weighted" : `octave around ${o} Hz`])} />
      {got.value?.figures.map((f) => <Chart key={f.title} figure={f} comma={comma} />)}
      {got.value && got.value.figures.length === 0 && <p>Nothing to draw: {got.value.decay_early.why}.</p>}
      {!got.value && (got.problem ? <Wrong problem={got.problem} again={got.again} /> : <Waits what="Computing …" />)}
    </section>
  );
}

// Belongs ties a shot to its arrow, its score and a reading, such as its speed.
function Belongs({ heard, mark, edits, change }: Props) {
  const tie = mark.tie;
  const { bow, trial } = heard.recording;
  const readings = useGet<Rows<ReadingView>>(bow ? `/readings?${trial ? `trial=${trial}` : `bow=${bow}`}&limit=500` : null);
  const rows = (readings.value?.rows ?? []).filter((r) => !r.corrected_by && r.reading.kind !== "note").reverse();
  const put = (field: "arrow" | "ring") => (v: string) => change(tieTo(edits, mark, { [field]: v.trim() || undefined }), `${mark.key}${field}`);
  if (mark.struck) return null;
  return (
    <section class="card">
      <h2>Belongs to</h2>
      <div class="pairs">
        <Field label="Arrow number" name="arrow" value={tie?.arrow ?? ""} onInput={put("arrow")} />
        <Field label="Score" name="ring" value={tie?.ring ?? ""} onInput={put("ring")} placeholder="X, 10 … 1, M" />
      </div>
      {rows.length > 0 && (
        <Choice label="A reading, such as its speed" value={tie?.reading ?? ""} onInput={(v) => change(tieTo(edits, mark, { reading: v || undefined }))}
          options={[["", "none"], ...rows.map((r): [string, string] => [r.reading.id, `${r.label} ${r.shown}, ${when(r.reading.at)}`])]} />
      )}
      <p class="doubt">Kept with the corrections: press Save above.</p>
    </section>
  );
}
