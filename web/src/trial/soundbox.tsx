import { useState } from "preact/hooks";
import { useDraft } from "../lib/draft";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { Wrong } from "../ui/states";
import { Kept, Recorder, whereNow } from "../sound/recorder";
import { sendTakes } from "../sound/sending";
import type { Of } from "../sound/takes";
import { WherePhone } from "../sound/where";
import { Heard } from "./heard";
import { take } from "./recording";
import { tapeKey, type Tape as TapeRecord } from "./tape";
import type { Page } from "./trial";
import type { TrialView } from "./types";

const sounds = "audio/*,.wav,.ogg,.oga,.opus,.flac,.mp3,.m4a,.webm";
const whereOf = (trial: string) => `trial:${trial}:where`;

// StopSound takes the recordings of one stop.
export function StopSound({ view, stop, again }: Page & { stop: number }) {
  const here = view.recordings.filter((r) => r.stop === stop);
  return (
    <section class="card" aria-label="Recording of this stop">
      <h2>Recording of this stop <span class="faint">(optional)</span></h2>
      {here.map((r) => <Heard key={r.id} recording={r} again={again} />)}
      <SoundFile draft={whereOf(view.trial.id)} label={here.length > 0 ? "Add another file" : "A file from your phone's recorder"} of={{ bow: view.trial.bow, trial: view.trial.id, stop }} done={again} />
      <Kept of={{ bow: view.trial.bow, trial: view.trial.id }} stop={stop} />
      <WherePhone draft={whereOf(view.trial.id)} />
    </section>
  );
}

// Tape is one recording for the whole trial: started once, "next stop" marks
// the places, the file is sent when there is time.
export function Tape({ view, stop, again }: Page & { stop: number }) {
  const id = view.trial.id;
  const [tape, set, clear] = useDraft<TapeRecord | null>(tapeKey(id), null);
  const whole = view.recordings.filter((r) => r.stop === undefined);
  const start = () => set({ started: Date.now(), taps: [{ stop, at_s: 0 }] });
  return (
    <section class="card" aria-label="One recording for the whole trial">
      <h2>One recording for the whole trial <span class="faint">(optional)</span></h2>
      <p class="faint">Start it once and go through the stops: "Next stop" marks where each begins. Stop and start again as you like.</p>
      {whole.map((r) => <Heard key={r.id} recording={r} again={again} />)}
      <Recorder of={{ bow: view.trial.bow, trial: id, setup: view.trial.setup }} name="trial" stop={stop} whereKey={whereOf(id)} />
      <details open={tape !== null}>
        <summary>With a recorder beside this page</summary>
        {!tape && <p>Start the phone's own recorder, press the button below in the same moment, and leave it running. Send the file afterwards, at home if you like.</p>}
        {!tape && <button type="button" onClick={start}>I have just started the recorder</button>}
        {tape && <Taps tape={tape} view={view} />}
        {tape?.ended !== undefined && <SoundFile draft={whereOf(id)} label="Its file" of={{ bow: view.trial.bow, trial: id, taps: tape.taps }} done={() => { clear(); again(); }} />}
        {tape && (
          <div class="row">
            {tape.ended === undefined && <button type="button" onClick={() => set({ ...tape, ended: Date.now() })}>I have stopped the recorder</button>}
            <button type="button" class="quiet" onClick={clear}>There is no such recording: forget the marks</button>
          </div>
        )}
      </details>
    </section>
  );
}

function Taps({ tape, view }: { tape: TapeRecord; view: TrialView }) {
  const at = (s: number) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
  return (
    <p role="status">
      Recorder {tape.ended === undefined ? "running" : "stopped"}. Marks:{" "}
      {tape.taps.map((t, i) => <span key={i} class="num">{i > 0 && ", "}stop {view.stops[t.stop]?.plan.number} from {at(t.at_s)}</span>)}.
    </p>
  );
}

// SoundFile chooses a file and keeps it on this device until the notebook has
// it; done is called when it is safe. Kept, or the recorder beside it, shows how
// far it is; pages look again by themselves when it has gone out.
export function SoundFile({ draft, label, of, done }: { draft: string; label: string; of: Of; done: () => void }) {
  const [reading, setReading] = useState("");
  const [problem, setProblem] = useState<Problem>();
  const choose = async (input: HTMLInputElement) => {
    const files = [...(input.files ?? [])];
    setProblem(undefined);
    try {
      for (const f of files) await take(f, of, whereNow(draft), setReading);
      if (files.length > 0) done();
    } catch (e) {
      setProblem(asProblem(e));
    }
    input.value = ""; // the same file can be chosen again after a failure
    setReading("");
    void sendTakes().catch(() => undefined);
  };
  return (
    <div class="field">
      <label>{label}
        <input type="file" accept={sounds} multiple={of.taps === undefined} disabled={reading !== ""} onChange={(e) => void choose(e.currentTarget)} />
      </label>
      {reading && <p role="status">{reading}</p>}
      {problem && <Wrong problem={problem} />}
    </div>
  );
}
