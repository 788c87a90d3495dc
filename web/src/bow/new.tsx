import { useState } from "preact/hooks";
import { Whose } from "../club/whose";
import { useDraft } from "../lib/draft";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { replace, useTitle } from "../lib/route";
import { Field, Note, Pick } from "../ui/field";
import { Wrong } from "../ui/states";
import { askCheck, showFirst, useCheck, useFormErrors, type Tried } from "./check";
import { DetailFields, GroupFields } from "./entry";
import { FileButton } from "./file";
import { byHeart, details } from "./fields";
import { PreviewCard } from "./forecast";
import { freshBow, newBowKey, type NewBow } from "./newdraft";
import { storeBow, storeSetUp } from "./store";
import { toSettings } from "./typed";

// NewBowPage asks for what a person knows by heart; the rest is folded away
// with its defaults said.
export function NewBowPage() {
  useTitle("Enter a bow");
  const [initial] = useState(freshBow);
  const [form, setForm, clear] = useDraft<NewBow>(newBowKey, initial);
  const checked = useCheck(form.typed, (s) => s);
  const save = useSave(form, (at) => setForm((f) => ({ ...f, at })), clear);
  const errors = useFormErrors(checked, form.typed, save.tried);
  const fields = { typed: form.typed, onTyped: (typed: NewBow["typed"]) => setForm((f) => ({ ...f, typed })), errors, hand: form.hand };
  const nameless = save.tried !== undefined && form.name.trim() === "";
  const wrong = errors.size + (nameless ? 1 : 0);

  return (
    <form noValidate onSubmit={(e) => { e.preventDefault(); void save.run(); }}>
      <p class="crumb"><a href="/">Bench</a></p>
      <h1>Enter a bow</h1>
      <p class="faint">Write numbers the way you say them: 22.5 cm, 8 3/4 in, 41 lbf, 330 gr. Everything is kept on this device while you type.</p>
      <div class="row head"><FileButton onRead={setForm} /><span class="faint small">if you have one; otherwise go on below.</span></div>
      <FileNote form={form} onForm={setForm} />
      <div class="two wide-left">
        <div>
          <fieldset>
            <legend>Its name</legend>
            <Field label="What you call it" name="name" required value={form.name} placeholder="like Blue 68" onInput={(name) => setForm((f) => ({ ...f, name }))}
              error={nameless ? "The bow needs a name. Anything that tells it from your others." : save.problem?.at("name")} />
            <Whose value={form.owner ?? ""} onInput={(owner, hand) => setForm((f) => ({ ...f, owner: owner || undefined, hand }))} error={save.problem?.at("owner")} />
            <Pick label="Shot as" value={form.style} options={[["recurve", "recurve", "with sight and clicker"], ["barebow", "barebow", "no sight"]]} onInput={(style) => setForm((f) => ({ ...f, style }))} />
          </fieldset>
          {byHeart.map((g) => <GroupFields key={g.title} group={g} {...fields} />)}
          <h2>More, if you know it</h2>
          <p class="faint">Each entry makes the forecast surer. Leave it for another day if you like: nothing here is needed to begin.</p>
          <DetailFields groups={details} {...fields} />
        </div>
        <div class="aside">
          <PreviewCard view={checked.view} busy={checked.busy} missing="With draw length, draw weight, brace height and arrow mass filled in, the forecast appears here." />
          {save.problem && save.problem.fields.length === 0 && <Wrong problem={save.problem} />}
          {save.tried && wrong > 0 && <Note kind="bad">Not saved yet: {wrong === 1 ? "one field" : `${wrong} fields`} to put right. What is wrong stands beside it.</Note>}
          <button class="main" type="submit" disabled={save.busy}>{save.busy ? "Saving…" : "Save the bow"}</button>
          <p class="row spread"><button type="button" class="quiet" onClick={clear}>Empty the form</button></p>
        </div>
      </div>
    </form>
  );
}

// FileNote says where the form's content came from.
function FileNote({ form, onForm }: { form: NewBow; onForm: (next: NewBow) => void }) {
  if (!form.file) return null;
  return (
    <Note>
      <p>Read from {form.file}. Look it over, then save.</p>
      {(form.unknown?.length ?? 0) > 0 && <p>Not known here and left out: {form.unknown!.map((u) => u.slice(1).replaceAll("/", ".")).join(", ")}.</p>}
      {form.before && <button type="button" onClick={() => onForm(form.before!)}>Bring back what I had typed</button>}
    </Note>
  );
}

// useSave checks once more and stores bow and first set-up.
function useSave(form: NewBow, keepTime: (at: string) => void, clear: () => void) {
  const [tried, setTried] = useState<Tried>();
  const [busy, setBusy] = useState(false);
  const [problem, setProblem] = useState<Problem>();
  const store = async () => {
    const { settings, errors: unsendable } = toSettings(form.typed);
    const view = await askCheck(settings, unsendable, undefined, false);
    setTried({ typed: form.typed, errors: view.errors });
    if (view.errors.length > 0 || form.name.trim() === "") return showFirst();
    const at = form.at ?? new Date().toISOString();
    keepTime(at);
    await storeBow(form.bow, { name: form.name.trim(), style: form.style, owner: form.owner, at });
    await storeSetUp(form.setup, { bow: form.bow, settings, at });
    clear();
    replace(`/bows/${form.bow}`);
  };
  const run = async () => {
    setTried({ typed: form.typed, errors: [] });
    setBusy(true);
    setProblem(undefined);
    try {
      await store();
    } catch (e) {
      setProblem(asProblem(e));
    } finally {
      setBusy(false);
    }
  };
  return { tried, busy, problem, run };
}
