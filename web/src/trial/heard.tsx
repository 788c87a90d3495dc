import { useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { asProblem } from "../lib/load";
import { useState } from "preact/hooks";
import { Note } from "../ui/field";
import { takeBack } from "./send";
import type { Listening, Recording, Shot } from "./types";

// Heard shows a recording and what was heard in it. Listening takes a while
// for a long one; the page stays usable.
export function Heard({ recording, again }: { recording: Recording; again: () => void }) {
  const heard = useGet<Listening>(`/recordings/${recording.id}/listening`);
  const [problem, setProblem] = useState<string>();
  const remove = () => void takeBack(recording.id, "not this recording").then(again, (e: unknown) => setProblem(asProblem(e).message));
  return (
    <div class="heard" aria-busy={!heard.value && !heard.problem}>
      <p><strong>{recording.name || "recording"}</strong> <span class="faint num">{size(recording.bytes)}</span></p>
      {!heard.value && !heard.problem && <p role="status" class="waits">Listening …</p>}
      {heard.problem && <Note kind="warn">{heard.problem.message} {heard.problem.hint}</Note>}
      {heard.value && <p>{found(heard.value)}</p>}
      {heard.value?.warnings.map((w) => <Note kind="warn" key={w}>{w}</Note>)}
      {heard.value && heard.value.shots.length > 0 && <Shots shots={heard.value.shots} />}
      {problem && <Note kind="bad">{problem}</Note>}
      <p class="row">
        <a class="button small" href={`/recordings/${recording.id}`}>Look at it, correct, play</a>
        <button type="button" class="quiet small" onClick={remove}>Not this one: take it back</button>
      </p>
    </div>
  );
}

const size = (bytes: number) => (bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${Math.round(bytes / 1e6)} MB`);

function found(l: Listening): string {
  const long = `${l.seconds < 20 ? l.seconds.toFixed(1) : Math.round(l.seconds)} s of ${l.format}`;
  if (l.shots.length === 0) return `No shot was found in ${long}. The recording is kept; it adds nothing to the verdict.`;
  return `${l.shots.length === 1 ? "1 shot" : `${l.shots.length} shots`} heard in ${long}.`;
}

function Shots({ shots }: { shots: Shot[] }) {
  const comma = useComma();
  return (
    <details>
      <summary>What was measured in each shot</summary>
      {shots.map((s) => (
        <div key={s.number}>
          <h3>Shot {s.number} <span class="faint num">at {number(s.release_s, 2, comma)} s</span></h3>
          <p class="doubt">{s.why}</p>
          <dl class="facts">
            {s.measures.map((m) => [
              <dt key={m.name}>{m.label}</dt>,
              <dd key={m.name + "v"}>{m.text} <span class="doubt">{m.value === null ? m.why : m.low === null ? "no doubt to give" : `${number(m.low, 1, comma)} to ${number(m.high!, 1, comma)} ${m.unit}`}</span></dd>,
            ])}
          </dl>
        </div>
      ))}
      <p class="doubt">Levels have no fixed zero: they compare only inside one arrangement of phone and place.</p>
    </details>
  );
}
