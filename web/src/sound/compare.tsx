import { useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { replace } from "../lib/route";
import { number } from "../lib/words";
import { useQuery } from "../trial/query";
import { Chart } from "../ui/chart";
import { Choice, Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { BlindTest } from "./blindtest";
import { Play } from "./play";
import type { Comparison, PairMeasure, Recording } from "./types";

// A setting is the shots of some recordings, or of one stop in them.
interface Setting { key: string; ids: string[]; stop?: number; name: string }

// settingsOf lists what can be compared: every stop of a trial over all its
// recordings, every marked setting of a recording, and each whole recording.
function settingsOf(recordings: Recording[]): Setting[] {
  const out = new Map<string, Setting>();
  const put = (key: string, r: Recording, name: string, stop?: number) => {
    const old = out.get(key);
    if (old) old.ids.push(r.id);
    else out.set(key, { key, ids: [r.id], stop, name });
  };
  for (const r of recordings) {
    const stops = [...new Set(r.stop === undefined ? (r.taps ?? []).map((t) => t.stop) : [r.stop])];
    const day = new Date(r.at).toLocaleDateString([], { day: "numeric", month: "short" });
    if (r.trial) for (const s of stops) put(`${r.trial}:${s}`, r, `trial of ${day}, stop ${s + 1}`, s);
    else if (stops.length > 1) for (const s of stops) put(`${r.id}:${s}`, r, `${r.name || "recording"}, setting ${s + 1}`, s);
    if (!r.trial || stops.length === 0) put(r.id, r, r.name || `recording of ${day}`);
  }
  return [...out.values()];
}

// Pair compares two settings by ear and by measure; the address holds the
// choice, so that it can be sent.
export function Pair({ bow, recordings }: { bow: string; recordings: Recording[] }) {
  const settings = settingsOf(recordings);
  const a = useQuery("a"), b = useQuery("b");
  const set = (side: "a" | "b") => (v: string) => {
    const next = new URLSearchParams({ a, b, [side]: v });
    replace(`/bows/${bow}/sound?${next}`);
  };
  const options: [string, string][] = [["", "choose …"], ...settings.map((s): [string, string] => [s.key, s.name])];
  const one = settings.find((s) => s.key === a), two = settings.find((s) => s.key === b);
  return (
    <section class="card" aria-label="Compare two settings">
      <h2>Compare two settings</h2>
      {settings.length < 2 && <p class="faint">For this two settings are needed: two recordings, or one with "next setting" tapped.</p>}
      {settings.length >= 2 && (
        <div class="pairs">
          <Choice label="A" value={a} options={options} onInput={set("a")} />
          <Choice label="B" value={b} options={options} onInput={set("b")} />
        </div>
      )}
      {one && two && one.key === two.key && <Note>That is the same setting twice.</Note>}
      {one && two && one.key !== two.key && <Compared a={one} b={two} />}
    </section>
  );
}

function query(a: Setting, b: Setting): URLSearchParams {
  const q = new URLSearchParams({ a: a.ids.join(","), b: b.ids.join(",") });
  if (a.stop !== undefined) q.set("a_stop", String(a.stop));
  if (b.stop !== undefined) q.set("b_stop", String(b.stop));
  return q;
}

function Compared({ a, b }: { a: Setting; b: Setting }) {
  const q = query(a, b);
  const got = useGet<Comparison>(`/sound/comparison?${q}`);
  const comma = useComma();
  const c = got.value;
  if (!c) return got.problem ? <Wrong problem={got.problem} again={got.again} /> : <Waits what="Listening to both …" />;
  return (
    <div class="compared">
      {c.warnings.map((w) => <Note kind="warn" key={w}>{w}</Note>)}
      <p>A: {a.name}, {c.a.shots} shots. B: {b.name}, {c.b.shots} shots.</p>
      {c.playable && <div class="row"><Play src={`/api/v1/sound/pair?${q}`} label="Play A, then B" /><span class="doubt">One shot of middling level of each, at one gain: what is louder stays louder. Ears are fooled by knowing which is which: test them blind.</span></div>}
      {c.playable && <BlindTest key={q.toString()} pair={(first, second) => `/api/v1/sound/pair?${query(first === "a" ? a : b, second === "a" ? a : b)}`} />}
      <ul class="lines">{c.measures.map((m) => <li key={m.name}><strong>{m.label}</strong>: {m.text}{m.found && <span class="tag">differs</span>}</li>)}</ul>
      <details>
        <summary>Means and intervals</summary>
        <div class="scroll" tabIndex={0} role="region" aria-label="Means and intervals of both settings">
          <table>
            <thead><tr><th scope="col">measure</th><th scope="col">A</th><th scope="col">B</th><th scope="col">B less A</th><th scope="col">95 % interval</th><th scope="col">p</th><th scope="col">shots</th></tr></thead>
            <tbody>{c.measures.map((m) => <Row key={m.name} m={m} comma={comma} />)}</tbody>
          </table>
        </div>
        <p class="doubt">Student's t with pooled variance, each measure by itself: of six measures one in four comparisons of equal settings shows a false "differs" somewhere.</p>
      </details>
      {c.figures.map((f) => <Chart key={f.title} figure={f} comma={comma} />)}
    </div>
  );
}

function Row({ m, comma }: { m: PairMeasure; comma: boolean }) {
  const digits = m.unit === "Hz" ? 0 : 2;
  const show = (v: number | null, d = digits) => (v === null ? "–" : number(v, d, comma));
  return (
    <tr>
      <td>{m.label} ({m.unit})</td><td class="num">{show(m.a)}</td><td class="num">{show(m.b)}</td><td class="num">{show(m.difference)}</td>
      <td class="num">{m.low === null ? "–" : `${show(m.low)} to ${show(m.high)}`}</td><td class="num">{show(m.p, 3)}</td><td class="num">{m.shots.join(", ")}</td>
    </tr>
  );
}
