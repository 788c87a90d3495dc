import { useEffect } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { number } from "../lib/words";
import { Facts, Note } from "../ui/field";
import { Answer } from "../ui/states";
import type { SignatureView, Voice, VoiceShot } from "./types";

// SignaturePage says how a bow usually sounds and which shots did not.
export function SignaturePage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useBow(bow.value);
  useTitle("Signature");
  const got = useGet<SignatureView>(`/bows/${id}/signature`);
  const pending = got.value?.pending ?? 0;
  useEffect(() => { if (pending > 0) got.again(); }, [got.value]);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}/sound`}>Sound</a></p>
      <h1>Signature</h1>
      <p class="lead">How this bow usually sounds, by three numbers that no gain changes, and the shots that sounded unlike the rest. Only shots of one set-up, one phone and one place are held against each other.</p>
      <Answer of={got} what="Listening to every recording of this bow …">
        {(v) => (
          <>
            {pending > 0 && <p role="status">Listened to {v.recordings - pending} of {v.recordings} recordings so far … <progress max={v.recordings} value={v.recordings - pending} aria-label="Recordings listened to" /></p>}
            {v.warnings.map((w) => <Note kind="warn" key={w}>{w}</Note>)}
            {v.recordings === 0 && <p>No recording yet. <a class="button" href={`/bows/${id}/sound`}>Record a session</a></p>}
            {v.recordings > 0 && pending === 0 && v.groups.length === 0 && <p>No shot was found in any recording.</p>}
            {v.groups.filter(judged).map((g, i) => <Group key={i} g={g} />)}
            <Few groups={v.groups.filter((g) => !judged(g))} />
          </>
        )}
      </Answer>
    </>
  );
}

const enough = 20; // shots, below which none is flagged
const judged = (g: Voice): boolean => g.shots.filter((s) => s.distance !== null).length >= enough;

// Few are the groups in which nothing can be flagged yet.
function Few({ groups }: { groups: Voice[] }) {
  if (groups.length === 0) return null;
  return (
    <section>
      <h2>Too few shots so far</h2>
      {groups.map((g, i) => <details key={i} class="section"><summary>{g.name} <span class="faint">{g.shots.length} of {enough} shots</span></summary><div class="inside"><Group g={g} /></div></details>)}
    </section>
  );
}

function Group({ g }: { g: Voice }) {
  const comma = useComma();
  const odd = g.shots.filter((s) => s.odd);
  return (
    <section class="card" aria-label={g.name}>
      <h2>{g.name}</h2>
      <p class="faint">{[g.phone || "phone not stored", g.where, g.place, g.distance_to_bale && `bale at ${g.distance_to_bale}`].filter(Boolean).join(" · ")}</p>
      <p>{g.text}</p>
      {odd.length > 0 && (
        <>
          <h3>Unlike the rest</h3>
          <ul class="lines">{odd.map((s) => <li key={s.recording + s.number}><Odd s={s} comma={comma} /></li>)}</ul>
          <p class="doubt">A flag says that the sound was unusual, not that the shot was bad. By chance up to {number(g.chance_flags_per_72, 1, comma)} of 72 arrows are flagged.</p>
        </>
      )}
      {g.arrows.length > 0 && (
        <div class="scroll" tabIndex={0} role="region" aria-label={`Flags by arrow number: ${g.name}`}>
          <table>
            <thead><tr><th scope="col">arrow</th><th scope="col">shots</th><th scope="col">unlike the rest</th><th scope="col">scores</th></tr></thead>
            <tbody>{g.arrows.map((a) => <tr key={a.arrow}><td>{a.arrow}</td><td class="num">{a.shots}</td><td class="num">{a.odd}</td><td class="num">{a.rings.join(", ") || "–"}</td></tr>)}</tbody>
          </table>
        </div>
      )}
      {g.usual.length > 0 && <details><summary>The signature in numbers</summary><Facts rows={g.usual.map((u) => [u.label, u.text])} /></details>}
      <details>
        <summary>Every shot ({g.shots.length})</summary>
        <div class="scroll" tabIndex={0} role="region" aria-label={`Every shot: ${g.name}`}>
          <table>
            <thead><tr><th scope="col">shot</th><th scope="col">arrow</th><th scope="col">score</th><th scope="col">distance</th><th scope="col">p by rank</th><th scope="col">furthest off</th></tr></thead>
            <tbody>{g.shots.map((s) => (
              <tr key={s.recording + s.number} class={s.odd ? "here" : ""}>
                <td><a class="pad" href={`/recordings/${s.recording}?shot=${s.number}`}>{s.number} at {number(s.release_s, 1, comma)} s</a></td><td>{s.arrow || "–"}</td><td>{s.ring || "–"}</td>
                <td class="num">{s.distance === null ? <span class="doubt">{s.why}</span> : number(s.distance, 1, comma)}</td><td class="num">{s.p === null ? "–" : number(s.p, 3, comma)}</td><td>{s.furthest || "–"}</td>
              </tr>
            ))}</tbody>
          </table>
        </div>
      </details>
    </section>
  );
}

function Odd({ s, comma }: { s: VoiceShot; comma: boolean }) {
  return (
    <>
      <a href={`/recordings/${s.recording}?shot=${s.number}`}>Shot {s.number} at {number(s.release_s, 1, comma)} s</a>
      {s.arrow && <> · arrow {s.arrow}</>}{s.ring && <> · scored {s.ring}</>} · {s.furthest} furthest off <span class="doubt">(p {number(s.p ?? 1, 3, comma)} by rank)</span>
    </>
  );
}
