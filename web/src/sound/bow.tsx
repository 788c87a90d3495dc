import { useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { allRows, useGet, useLoaded } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { when } from "../lib/words";
import { SoundFile } from "../trial/soundbox";
import { useUnsent } from "../trial/send";
import { Answer } from "../ui/states";
import { Pair } from "./compare";
import { Recorder } from "./recorder";
import type { Recording } from "./types";
import { WherePhone } from "./where";

// BowSoundPage is everything heard of a bow: record here, open a recording,
// compare two settings.
export function BowSoundPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useBow(bow.value);
  useTitle(bow.value ? `Sound of ${bow.value.bow.name}` : "Sound");
  const unsent = useUnsent();
  const [turn, setTurn] = useState(0);
  const list = useLoaded<Recording[]>(`${id} ${turn} ${unsent}`, (signal) => allRows<Recording>(`/recordings?bow=${id}`, signal));
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "Bow"}</a></p>
      <h1>Sound</h1>
      <p class="lead">What the bow sounds like, measured: record a session, put right what was misheard, compare two settings, find the shots that sounded unlike the rest.</p>
      <Make bow={id} setup={bow.value?.setup?.setup.id} done={() => setTurn((n) => n + 1)} />
      <Answer of={list} what="Opening the recordings …">
        {(rows) => (
          <>
            <section class="card">
              <h2>Recordings</h2>
              {rows.length === 0 && <p>None yet.</p>}
              <ul class="lines">{[...rows].reverse().map((r) => <li key={r.id}><a href={`/recordings/${r.id}`}>{r.name || "recording"}</a> <span class="faint">{when(r.at)}{about(r)}</span></li>)}</ul>
              {rows.length > 0 && <p><a class="button" href={`/bows/${id}/signature`}>Signature and odd shots</a></p>}
            </section>
            {rows.length > 0 && <Pair bow={id} recordings={rows} />}
          </>
        )}
      </Answer>
    </>
  );
}

const about = (r: Recording): string => [r.trial && (r.stop === undefined ? "trial" : `trial, stop ${r.stop + 1}`), r.place, r.where].filter(Boolean).map((x) => ` · ${x}`).join("");

// Make records here, or takes a file.
function Make({ bow, setup, done }: { bow: string; setup?: string; done: () => void }) {
  const where = `bow:${bow}:where`;
  return (
    <section class="card" aria-label="A new recording">
      <h2>A new recording</h2>
      <Recorder of={{ bow, setup }} name="bale" stop={0} whereKey={where}
        next={(live) => { const at = live.take.taps.at(-1)?.stop ?? 0; return { label: `Next setting (${at + 2})`, stop: at + 1 }; }} />
      <SoundFile draft={where} label="A file from a recorder" of={{ bow, setup }} done={done} />
      <WherePhone draft={where} />
      <p class="doubt">Shoot at a blank bale, with an arrow on the string, always. Six shots a setting show a difference of about 1.5 dB; twenty make a signature.</p>
    </section>
  );
}
