import type { ComponentChildren } from "preact";
import { useGet } from "../lib/load";
import type { Rows, Session, SetUpView } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { when } from "../lib/words";
import { Choice, Field, Quantity } from "../ui/field";
import type { Plot } from "./plotstate";
import type { Face } from "./types";

// What an end was shot with: chosen once, kept, and out of the way. A list
// that is out of reach leaves what was chosen as it is.

export const useFaces = () => useGet<Rows<Face>>("/faces");
export const useSessions = (bow: string) => useGet<Rows<Session>>(`/sessions?bow=${bow}&limit=500`);

// setUpWords names a set-up: its day and its reason.
export const setUpWords = (s: SetUpView): string => `${when(s.setup.at)}${s.setup.reason ? `: ${s.setup.reason}` : ""}`;

const usual = ["18 m", "30 m", "50 m", "60 m", "70 m"];

interface Props { plot: Plot; set: (more: Partial<Plot>) => void; faces: Face[]; setups: SetUpView[]; sessions: Session[]; trial: boolean }

export function With({ plot, set, faces, setups, sessions, trial }: Props) {
  return (
    <>
      {!trial && <Choice label="Set-up" value={plot.setup} onInput={(v) => set({ setup: v })} options={setups.map((s): [string, string] => [s.setup.id, setUpWords(s)])} />}
      <Quantity label="Distance" quantity="distance" value={plot.distance} onInput={(v) => set({ distance: v })} name="distance" placeholder="70 m" help="Without it these arrows cannot be compared with others shot elsewhere." />
      <div class="row chips" role="group" aria-label="Usual distances">
        {usual.map((d) => <button type="button" key={d} class="chip" aria-pressed={plot.distance === d} onClick={() => set({ distance: d })}>{d}</button>)}
      </div>
      <Choice label="Face" value={plot.face} onInput={(v) => set({ face: v })} options={faces.map((f): [string, string] => [f.key, f.name])} help={faces.find((f) => f.key === plot.face)?.spots === 3 ? "Each arrow is measured from the middle of the spot it was shot at; the picture shows one spot." : undefined} />
      {faces.find((f) => f.key === plot.face)?.zones.length === 0 && (
        <Choice label="Paper shown" value={String(plot.span)} onInput={(v) => set({ span: Number(v) })} options={[["0.4", "40 cm wide"], ["0.6", "60 cm wide"], ["1.2", "1.2 m wide"], ["2.4", "2.4 m wide"]]} />
      )}
      <div class="pairs">
        {!trial && <Field label="Arrows an end" required inputMode="numeric" value={plot.perEnd} onInput={(v) => set({ perEnd: v })} name="arrows_an_end" />}
        <Field label="Numbers on the shafts" value={plot.numbers} onInput={(v) => set({ numbers: v })} name="arrow_numbers" placeholder="1-6" help="They advance by themselves; tap another number first when the order was another. Empty: arrows without numbers." />
      </div>
      {!trial && <SessionPick plot={plot} set={set} sessions={sessions} />}
    </>
  );
}

function SessionPick({ plot, set, sessions }: Pick<Props, "plot" | "set" | "sessions">) {
  const known = sessions.some((s) => s.id === plot.session);
  const options: [string, string][] = [...sessions].reverse().slice(0, 12).map((s) => [s.id, `${when(s.at)}${s.place ? `, ${s.place}` : ""}`]);
  if (!known) options.unshift([plot.session, plot.sessionKept ? "this one, not yet sent" : "a new session, begun with this end"]);
  else options.push(["new", "a new session"]);
  const byHand = { byHand: true, day: new Date().toDateString() };
  const pick = (v: string) => set(v === "new" ? { ...byHand, session: uuidv7(), sessionKept: false } : { ...byHand, session: v, sessionKept: sessions.some((s) => s.id === v) || plot.sessionKept });
  return (
    <>
      <Choice label="Session" value={plot.session} onInput={pick} options={options} />
      {!known && !plot.sessionKept && <Field label="Place" value={plot.place} onInput={(v) => set({ place: v })} name="place" placeholder="club hall, lane 3" />}
    </>
  );
}

// WithFold keeps it folded under one line that says what is chosen.
export function WithFold({ plot, faces, children }: { plot: Plot; faces: Face[]; children: ComponentChildren }) {
  const face = faces.find((f) => f.key === plot.face);
  return (
    <details class="with">
      <summary><span>{plot.distance || <strong class="warned">distance?</strong>}, {face?.name ?? plot.face}, {plot.perEnd} arrows an end</span></summary>
      {children}
    </details>
  );
}
