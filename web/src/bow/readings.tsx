import { useEffect, useRef, useState } from "preact/hooks";
import { useBusy } from "../lib/busy";
import { readDraft, useDraft } from "../lib/draft";
import { api, sentence } from "../lib/http";
import { record, waiting, watchOutbox } from "../lib/outbox";
import { allRows, asProblem, useGet, useLoaded } from "../lib/load";
import { useMe } from "../lib/me";
import { takeBack } from "../lib/takeback";
import type { ReadingView, Rows, SetUpView, Tree } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { capital, when } from "../lib/words";
import { Choice, Field, Note, Quantity } from "../ui/field";

interface KindInfo { kind: string; label: string; quantity?: string; words_only?: boolean }
// Draft is a reading as typed; at is since when it was tried to be noted: what is
// typed after that is the next reading, and what is noted twice is the same one.
interface Draft { id: string; kind: string; text: string; note: string; distance?: string; at?: string }

// What is measured on a bow as it stands; the rest has a meaning in a trial.
const noted = ["brace_height", "nocking_point", "tiller", "string_length", "draw_length", "draw_weight", "speed", "bare_shaft_right", "bare_shaft_up", "group_centre_right", "sight_mark", "note"];

// What is read at a distance, and at which usually.
const far: Record<string, string> = { bare_shaft_right: "30 m", bare_shaft_up: "30 m", group_centre_right: "30 m", sight_mark: "30 m" };

// Readings notes one reading outside of a trial and shows the latest ones.
export function Readings({ bow, setup, changed }: { bow: string; setup: SetUpView; changed: () => void }) {
  const units = useMe().me?.person.units;
  const list = useLoaded<ReadingView[]>(`${bow}|${units}`, (signal) => allRows<ReadingView>(`/readings?bow=${bow}`, signal));
  const latest = [...(list.value ?? [])].reverse().filter((r) => !r.reading.trial && !r.corrected_by).slice(0, 6);
  const kept = useWaiting(bow);
  const card = useRef<HTMLElement>(null);
  useEffect(() => {
    if (location.search.includes("note=")) card.current?.scrollIntoView();
  }, []);
  return (
    <section class="card" id="note-reading" ref={card}>
      <h2>Note a reading</h2>
      <NoteReading key={bow} bow={bow} setup={setup} stored={() => { list.again(); changed(); }} />
      {(latest.length > 0 || kept.length > 0) && (
        <>
          <h3>Latest</h3>
          <ul class="lines">
            {kept.map((w) => <li key={w.path}><span class="num">{capital((w.body.kind ?? "").replaceAll("_", " "))}: {w.body.text}</span><span class="faint small"> on this device, not yet sent</span></li>)}
            {latest.map((r) => (
              <li key={r.reading.id}>
                <span class="num">{capital(r.label)}{r.reading.distance ? ` at ${r.reading.distance}` : ""}: {r.shown}{r.reading.edge === "button" ? " to the button" : ""}</span>
                <span class="faint small"> {when(r.reading.at)}{r.reading.setup === setup.setup.id ? "" : ", on an earlier set-up"}{r.reading.note ? `, ${r.reading.note}` : ""}</span>
              </li>
            ))}
          </ul>
          <p class="doubt">A single reading has no doubt to give: repeat it to learn how well it repeats.</p>
        </>
      )}
    </section>
  );
}

interface Kept { path: string; body: { bow?: string; kind?: string; text?: string; trial?: string } }

// useWaiting gives the readings of a bow that this device still holds.
function useWaiting(bow: string): Kept[] {
  const [kept, setKept] = useState<Kept[]>([]);
  useEffect(() => watchOutbox(() => setKept((waiting() as Kept[]).filter((w) => w.path.includes("/readings/") && w.body.bow === bow && !w.body.trial))), [bow]);
  return kept;
}

function NoteReading({ bow, setup, stored }: { bow: string; setup: SetUpView; stored: () => void }) {
  const kinds = useGet<Rows<KindInfo>>("/reading-kinds");
  const [initial] = useState<Draft>(() => ({ id: uuidv7(), kind: "brace_height", text: "", note: "" }));
  const [draft, setDraft] = useDraft<Draft>(`reading|${bow}`, initial);
  const { busy, run } = useBusy();
  const [said, setSaid] = useState<{ text: string; id?: string }>();
  const [error, setError] = useState("");
  const offered = noted.flatMap((n) => (kinds.value?.rows ?? []).filter((k) => k.kind === n));
  const kind = offered.find((k) => k.kind === draft.kind) ?? { kind: "brace_height", label: "brace height", quantity: "setting" };
  const edge = edgeOf(setup.setup.settings, draft.kind);

  const change = (more: Partial<Draft>) => { // after it was pressed it is another reading
    setSaid(undefined);
    setError("");
    setDraft((d) => ({ ...d, ...(d.at && { id: uuidv7(), at: undefined }), ...more }));
  };
  const save = () => run(async () => {
    setSaid(undefined);
    setError("");
    if (draft.text.trim() === "") return setError("Type what you read first.");
    const distance = far[draft.kind] ? (draft.distance?.trim() || far[draft.kind]) : undefined;
    const sent = { ...draft, at: draft.at ?? new Date().toISOString() };
    setDraft(sent);
    try {
      const body = { bow, setup: setup.setup.id, kind: sent.kind, text: sent.text, edge, distance, note: sent.note || undefined, at: sent.at };
      const how = await record(`${api}/readings/${sent.id}`, body);
      setDraft((now) => (now.id === sent.id ? { id: uuidv7(), kind: now.kind, text: "", note: "", distance: now.distance } : now));
      setSaid({ id: sent.id, text: how === "sent" ? "Noted." : "Kept on this device; it is sent as soon as the notebook answers." });
      stored();
    } catch (e) {
      const p = asProblem(e), why = p.fields[0] ? sentence(p.fields[0]) : p.message;
      setError(readDraft<Draft>(`reading|${bow}`)?.id === sent.id ? why : `${sent.text}: ${why}`);
    }
  });

  // A record that went out is taken out of sight, not destroyed.
  const undo = (id: string) => run(async () => {
    try {
      await takeBack(`${api}/readings/${id}`, "slip, taken back at once");
      setSaid({ text: "Taken back." });
      stored();
    } catch (e) {
      setError(asProblem(e).message);
    }
  });

  const shared = { label: capital(kind.label), value: draft.text, required: true, error: error || undefined, name: "reading", onInput: (text: string) => change({ text }) };
  return (
    <form noValidate onSubmit={(e) => { e.preventDefault(); void save(); }}>
      <Choice label="What did you measure?" value={draft.kind} options={offered.map((k): [string, string] => [k.kind, k.label])} onInput={(kind) => change({ kind })} />
      {kind.quantity
        ? <Quantity {...shared} quantity={kind.quantity} field={kind.kind === "speed" ? "arrow_speed" : kind.kind} help={helpFor(kind.kind, edge)} />
        : <Field {...shared} lines={kind.words_only ? 3 : undefined} />}
      {far[draft.kind] && (
        <Quantity label="At which distance" name="distance" quantity="distance" value={draft.distance ?? far[draft.kind]!} onInput={(distance) => change({ distance })} />
      )}
      <button type="submit">{busy ? "Noting…" : "Note it"}</button>
      {said && <Note><p role="status">{said.text}</p>{said.id && <button type="button" class="quiet" onClick={() => void undo(said.id!)}>Take it back</button>}</Note>}
    </form>
  );
}

// edgeOf says what this bow's square is held to.
function edgeOf(settings: Tree, kind: string): string | undefined {
  if (kind !== "brace_height") return undefined;
  return (settings.brace_height as { from?: string } | undefined)?.from === "button" ? "button" : "pivot";
}

function helpFor(kind: string, edge: string | undefined): string | undefined {
  if (kind === "brace_height") return `After at least five shots, ${edge === "button" ? "from the button, as on this set-up" : "from the grip's deepest point"}, square to the string.`;
  if (kind === "draw_weight") return "At your own draw length. Hook the scale where it cannot slip, face clear of string and limbs; let down slowly.";
  if (kind === "bare_shaft_up") return "How far above the fletched group's centre the bare shafts' centre lies; lower is negative. Two readings with the nocking point 2 mm apart teach what it does on this bow. Powder the tail first: one that touches the rest says nothing. Short distance, wide backstop, clear range behind.";
  if (kind === "bare_shaft_right") return "How far right of the fletched group's centre the bare shafts' centre lies, at least three of each, tails taped to equal mass; left is negative. Short distance, wide backstop, clear range behind.";
  if (kind === "group_centre_right") return "How far right of the point of aim, the sight left as it was between readings; left is negative.";
  if (kind === "speed") return "Only with arrows at or above the maker's least mass; everyone behind the line.";
  return undefined;
}
