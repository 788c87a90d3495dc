import { useEffect, useRef, useState } from "preact/hooks";
import { withUnsent } from "../bow/unsent";
import { useBow } from "../lib/bar";
import { useDraft } from "../lib/draft";
import { asProblem, useGet } from "../lib/load";
import { useMe } from "../lib/me";
import { go, useTitle } from "../lib/route";
import type { BenchView, BowView, SetUpView } from "../lib/types";
import { inOrder, useNamed, useTheirs } from "../lib/whose";
import { Note, Quantity } from "../ui/field";
import { Answer } from "../ui/states";
import { kinds, type Kind } from "./kinds";
import { useLasts, type Lasts } from "./last";
import { emptyDraft, isNoted, saveAll, takeBack, type Done, type Draft } from "./save";

// done outlives the page of the bow it tells of.
let done: Done | undefined;

// RoundPage reads one bow of a round: three fields and one button that goes
// on to the next bow. The bench is asked for once, not at every bow.
export function RoundPage({ id }: { id: string }) {
  const bench = useGet<BenchView>("/bows"), lasts = useLasts();
  const me = useMe().me?.person.id;
  return (
    <Answer of={bench} what="Opening the notebook…" title="Round">
      {(b) => {
        const bows = inOrder(b.bows, me), at = bows.findIndex((v) => v.bow.id === id);
        if (at < 0) return <NoBow away={bench.seen !== undefined} />;
        return <OneBow of={withUnsent(bows[at]!, bench.at)} at={at} count={bows.length} next={bows[(at + 1) % bows.length]!} lasts={lasts} />;
      }}
    </Answer>
  );
}

// NoBow: what is not on a bench seen some time ago may stand there now.
function NoBow({ away }: { away: boolean }) {
  useTitle("Round");
  return (
    <>
      <h1>{away ? "This bow is not on this device" : "This bow is not on the bench"}</h1>
      <p>{away ? "The notebook does not answer, and the bow was not on its bench when this device last saw it." : "It may be put away, belong to someone else, or its label is of another notebook."}</p>
      <a class="button main" href="/round">To the round</a>
    </>
  );
}

function OneBow({ of, at, count, next, lasts }: { of: BowView; at: number; count: number; next: BowView; lasts: Lasts }) {
  const archer = useTheirs()(of);
  useTitle(`Round: ${of.bow.name}`);
  useBow(of);
  return (
    <>
      <p class="crumb"><a href="/round">Round</a> <span class="num">bow {at + 1} of {count}</span></p>
      <h1>{of.bow.name}</h1>
      {archer && <p class="whose">{archer}</p>}
      {of.setup
        ? <Fields key={of.bow.id} bow={of.bow} archer={archer} setup={of.setup} next={next} lasts={lasts} />
        : <><p>It has no set-up yet, and a reading belongs to one.</p><a class="button main" href={`/bows/${of.bow.id}`}>Enter its set-up</a></>}
    </>
  );
}

function Fields({ bow, archer, setup, next, lasts }: { bow: { id: string; name: string }; archer: string; setup: SetUpView; next: BowView; lasts: Lasts }) {
  const named = useNamed();
  const [initial] = useState(emptyDraft);
  const [draft, setDraft, clear] = useDraft<Draft>(`round|${bow.id}`, initial);
  const [errors, setErrors] = useState<Partial<Record<Kind, string>>>({});
  const [empty, setEmpty] = useState(false);
  const [busy, setBusy] = useState(false);
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => { if (isNoted(draft)) clear(); }, []); // the page went away between noting and clearing
  useEffect(() => {
    const timer = setTimeout(() => form.current?.querySelector("input")?.focus({ preventScroll: true }), 60); // after the page's own focus
    return () => clearTimeout(timer);
  }, []);

  const type = (kind: Kind, text: string) => {
    setEmpty(false);
    setErrors((e) => ({ ...e, [kind]: undefined }));
    setDraft((d) => ({ ...d, at: undefined, texts: { ...d.texts, [kind]: text } }));
  };
  const save = async () => {
    if (busy) return;
    if (kinds.every((k) => !draft.texts[k.kind].trim())) return setEmpty(true);
    const stamped = { ...draft, at: draft.at ?? new Date().toISOString() };
    setDraft(stamped);
    setBusy(true);
    const out = await saveAll(stamped, bow.id, setup);
    setBusy(false);
    done = out.ids.length > 0 ? { bow: archer ? `${bow.name}, ${archer}` : bow.name, ids: out.ids, kept: out.kept } : undefined;
    if (Object.keys(out.errors).length > 0) {
      const fresh = emptyDraft();
      setDraft({ ...fresh, texts: { ...fresh.texts, ...refusedTexts(stamped, out.errors) } });
      return setErrors(out.errors);
    }
    clear();
    lasts.again();
    go(next.bow.id === bow.id ? "/round" : `/bows/${next.bow.id}/round`);
  };

  return (
    <form ref={form} noValidate onSubmit={(e) => { e.preventDefault(); void save(); }} onKeyPress={onEnter}>
      <LastDone />
      {kinds.map((k) => (
        <Quantity key={k.kind} name={k.kind} label={k.label} quantity="setting" field={k.kind} value={draft.texts[k.kind]} required
          help={`Last: ${lasts.words(bow.id, k.kind)}`} error={errors[k.kind]} onInput={(v) => type(k.kind, v)} />
      ))}
      {empty && <Note kind="bad">Type at least one reading, or skip this bow.</Note>}
      <button type="submit" class="main">{busy ? "Saving…" : "Save, next bow"}</button>
      {next.bow.id !== bow.id && <p class="row below"><a class="button quiet" href={`/bows/${next.bow.id}/round`}>Skip to {named(next)}</a></p>}
      <p class="doubt">A field may stay empty. A single reading has no doubt to give: repeat it to learn how well it repeats.</p>
    </form>
  );
}

// refusedTexts keeps in the form only what was refused.
function refusedTexts(draft: Draft, errors: Partial<Record<Kind, string>>): Partial<Record<Kind, string>> {
  return Object.fromEntries(Object.keys(errors).map((k) => [k, draft.texts[k as Kind]]));
}

// onEnter goes to the next field; in the last one it saves. Browsers send a
// form on the key press, not on the key going down.
function onEnter(e: KeyboardEvent): void {
  if (e.key !== "Enter" || !(e.target instanceof HTMLInputElement)) return;
  const inputs = [...e.target.form!.querySelectorAll("input")];
  const next = inputs[inputs.indexOf(e.target) + 1];
  if (!next) return;
  e.preventDefault();
  next.focus();
}

// LastDone says what became of the bow before, and takes it back.
export function LastDone() {
  const [shown, setShown] = useState(done);
  const [said, setSaid] = useState("");
  if (said) return <Note><p role="status">{said}</p></Note>;
  if (!shown) return null;
  const back = async () => {
    try {
      await takeBack(shown.ids);
      setSaid("Taken back.");
    } catch (e) {
      setSaid(asProblem(e).message);
    }
    done = undefined;
    setShown(undefined);
  };
  return (
    <Note>
      <p role="status">{shown.bow}: {shown.ids.length === 1 ? "1 reading" : `${shown.ids.length} readings`} {shown.kept ? "kept on this device, sent as soon as the notebook answers" : "noted"}.</p>
      <button type="button" class="quiet" onClick={() => void back()}>Take it back</button>
    </Note>
  );
}
