import { useEffect, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useDraft } from "../lib/draft";
import type { Problem } from "../lib/http";
import { asProblem, useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { replace, useTitle } from "../lib/route";
import type { BowView, SetUpView, Tree } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { Field, Note } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { askCheck, showFirst, useCheck, useFormErrors, type Checked, type Tried } from "./check";
import { DetailFields, EntryField, type FormProps } from "./entry";
import { entryAt, groups } from "./fields";
import { SafetyNotes } from "./forecast";
import { Changes } from "./history";
import { storeSetUp } from "./store";
import { Difference } from "./effect";
import { withUnsent } from "./unsent";
import { fromSettings, kept, nothing, toSettings, type Typed } from "./typed";

// What people change between sessions, each with the entries it is made of.
const choices: { key: string; label: string; entries: string[]; hint?: string }[] = [
  { key: "brace", label: "Brace height", entries: ["/brace_height/value", "/string/twists"], hint: "It moves nocking point and tiller a little too: read them again and enter them if they moved." },
  { key: "nocking", label: "Nocking point", entries: ["/nocking_point/value"] },
  { key: "tiller", label: "Tiller and bolts", entries: ["/tiller", "/riser/bolts_upper_turns", "/riser/bolts_lower_turns"], hint: "Limb bolts move draw weight and brace height: measure both again." },
  { key: "button", label: "Button", entries: ["/button/turns", "/button/spring"] },
  { key: "centre", label: "Centre shot", entries: ["/centre_shot"] },
  { key: "rest", label: "Rest", entries: ["/rest/height", "/rest/wire_reach", "/rest/powder_mark"] },
  { key: "string", label: "Another string", entries: ["/string/length", "/string/strands", "/string/material", "/string/twists", "/string/shots_on_it", "/brace_height/value", "/nocking_point/value"], hint: "Shoot it in, then measure brace height and nocking point again." },
  { key: "arrow", label: "Arrows", entries: ["/arrow/name", "/arrow/mass", "/arrow/spine", "/arrow/shaft_length", "/arrow/point_mass"], hint: "Reversible first: borrow a test shaft before you buy or cut." },
  { key: "draw", label: "Draw", entries: ["/draw/length", "/draw/weight", "/clicker"] },
  { key: "range", label: "Maker's range", entries: ["/limbs/range_low", "/limbs/range_high"] },
];

interface Draft { setup: string; picked: string[]; typed: Typed; reason: string; at?: string }

// ChangePage makes the next set-up from the present one; for a bow without
// any, the first.
export function ChangePage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Change ${bow.value.bow.name}`);
  useBow(bow.value);
  return <Answer of={bow} what="Opening the bow…" title="Change something">{(v) => { const view = withUnsent(v, bow.at); return <ChangeForm key={view.setup?.setup.id ?? "first"} view={view} />; }}</Answer>;
}

function ChangeForm({ view }: { view: BowView }) {
  const now = view.setup;
  const comma = useComma();
  const before = now?.setup.settings;
  const [initial] = useState<Draft>(() => ({
    setup: uuidv7(), picked: now ? asked() : ["all"], reason: now ? "" : "First settings.",
    typed: before ? fromSettings(before, comma).typed : nothing,
  }));
  const [form, setForm, clear] = useDraft<Draft>(`change|${view.bow.id}|${now?.setup.id ?? "first"}`, initial);
  useEffect(() => {
    const texts = brought();
    if (Object.keys(texts).length === 0) return;
    setForm((f) => ({ ...f, picked: [...new Set([...f.picked, ...asked()])], typed: { ...f.typed, texts: { ...f.typed.texts, ...texts } } }));
    history.replaceState(null, "", location.pathname); // once: what is typed from here on stands
  }, []);
  const checked = useCheck(form.typed, (s) => kept(s, before), now?.setup.id);
  const save = useSave(view, form, (at) => setForm((f) => ({ ...f, at })), clear);
  const errors = useFormErrors(checked, form.typed, save.tried);
  const fields = { typed: form.typed, onTyped: (typed: Typed) => setForm((f) => ({ ...f, typed })), errors, hand: view.hand };
  return (
    <form noValidate onSubmit={(e) => { e.preventDefault(); void save.run(); }}>
      <p class="crumb"><a href={`/bows/${view.bow.id}`}>{view.bow.name}</a></p>
      <h1>{now ? "Change something" : "Enter the settings"}</h1>
      {now && <p class="faint">A change makes the next set-up. The one before stays as it was; you can always go back to it.</p>}
      <div class="two wide-left">
        <div>
          {now && <PickWhat picked={form.picked} onPick={(picked) => setForm((f) => ({ ...f, picked }))} />}
          <Picked form={form} fields={fields} shown={now?.shown ?? {}} />
          {form.picked.length > 0 && now && (
            <fieldset>
              <legend>Why</legend>
              <Field label="The reason, for the you of next spring" name="reason" required value={form.reason} lines={2} placeholder="like: quieter after the trial"
                onInput={(reason) => setForm((f) => ({ ...f, reason }))}
                error={save.tried && form.reason.trim() === "" ? "A change needs a reason. A few words are enough." : save.problem?.at("reason")} />
            </fieldset>
          )}
        </div>
        <div class="aside">
          <Effect now={now} checked={checked} />
          {save.tried && errors.size > 0 && <Note kind="bad">Not saved yet: {errors.size === 1 ? "one field" : `${errors.size} fields`} to put right. What is wrong stands beside it.</Note>}
          {save.said && <Note kind="warn">{save.said}</Note>}
          {save.problem && save.problem.fields.length === 0 && <Wrong problem={save.problem} />}
          <button class="main" type="submit" disabled={save.busy}>{save.busy ? "Saving…" : now ? "Save as the next set-up" : "Save the settings"}</button>
          <p class="row spread"><button type="button" class="quiet" onClick={() => { clear(); replace(`/bows/${view.bow.id}`); }}>Leave it as it is</button></p>
        </div>
      </div>
    </form>
  );
}

// asked is what a link asked to change: /bows/…/change?pick=brace.
function asked(): string[] {
  return new URLSearchParams(location.search).getAll("pick").filter((pick) => choices.some((c) => c.key === pick));
}

// brought is what a link has filled in already, by the entry's pointer.
function brought(): Record<string, string> {
  return Object.fromEntries([...new URLSearchParams(location.search)].filter(([at]) => entryAt.has(at)));
}

function PickWhat({ picked, onPick }: { picked: string[]; onPick: (next: string[]) => void }) {
  const toggle = (key: string) => onPick(picked.includes(key) ? picked.filter((k) => k !== key) : [...picked, key]);
  const one = (key: string, label: string) => <button key={key} type="button" class="chip" aria-pressed={picked.includes(key)} onClick={() => toggle(key)}>{label}</button>;
  return (
    <fieldset>
      <legend>What do you change?</legend>
      <div class="row chips">{choices.map((c) => one(c.key, c.label))}{one("all", "Everything")}</div>
    </fieldset>
  );
}

function Picked({ form, fields, shown }: { form: Draft; fields: FormProps; shown: SetUpView["shown"] }) {
  const all = form.picked.includes("all");
  const open = all ? [] : choices.filter((c) => form.picked.includes(c.key));
  const seen = new Set<string>();
  return (
    <>
      {open.map((c) => (
        <fieldset key={c.key}>
          <legend>{c.label}</legend>
          {c.hint && <p class="help">{c.hint}</p>}
          {c.entries.filter((at) => !seen.has(at) && seen.add(at)).map((at) => <EntryField key={at} entry={entryAt.get(at)!} now={shown[at]?.text} {...fields} />)}
        </fieldset>
      ))}
      {all && <DetailFields groups={groups} {...fields} />}
    </>
  );
}

// Effect shows what changes, and what the model says that it does.
function Effect({ now, checked }: { now?: SetUpView; checked: Checked }) {
  const view = checked.view;
  return (
    <section class="card preview" aria-live="polite" aria-busy={checked.busy}>
      <h2>{now ? "What the change does" : "What this set-up does"}</h2>
      {checked.problem && <Note kind="warn">{checked.problem.message}</Note>}
      {view && <SafetyNotes view={view} />}
      {now && (view?.changes.length ?? 0) === 0 && <p class="faint">Nothing is changed yet.</p>}
      {view && now && view.changes.length > 0 && <Changes of={view.changes} />}
      {view && <Difference now={now} view={view} />}
    </section>
  );
}

// useSave checks once more and stores the next set-up.
function useSave(view: BowView, form: Draft, keepTime: (at: string) => void, clear: () => void) {
  const [tried, setTried] = useState<Tried>();
  const [busy, setBusy] = useState(false);
  const [said, setSaid] = useState("");
  const [problem, setProblem] = useState<Problem>();
  const parent = view.setup?.setup;
  const store = async () => {
    const { settings, errors: unsendable } = toSettings(form.typed);
    const full: Tree = kept(settings, parent?.settings);
    // Out of reach nobody checks: what cannot be read then comes back as refused.
    const found = await askCheck(full, unsendable, parent?.id, false).catch((e: unknown) => { if (asProblem(e).offline) return undefined; throw e; });
    const errors = found?.errors ?? unsendable;
    setTried({ typed: form.typed, errors });
    if (errors.length > 0 || (parent && form.reason.trim() === "")) return showFirst();
    if (parent && found?.changes.length === 0) return setSaid("Nothing is changed yet: pick what you change and enter its new value.");
    const at = form.at ?? new Date().toISOString();
    keepTime(at);
    await storeSetUp(form.setup, { bow: view.bow.id, parent: parent?.id, reason: form.reason.trim() || undefined, settings: full, at });
    clear();
    replace(`/bows/${view.bow.id}`);
  };
  const run = async () => {
    setTried({ typed: form.typed, errors: [] });
    setBusy(true);
    setSaid("");
    setProblem(undefined);
    try {
      await store();
    } catch (e) {
      setProblem(asProblem(e));
    } finally {
      setBusy(false);
    }
  };
  return { tried, busy, said, problem, run };
}
