import { useEffect, useRef, useState } from "preact/hooks";
import { useBusy } from "../lib/busy";
import { dropDraft, readDraft, useDraft } from "../lib/draft";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import type { Bow } from "../lib/types";
import { Clash } from "../ui/clash";
import { Field, Note, Pick } from "../ui/field";
import { changeBow } from "./store";

type AboutDraft = Pick<Bow, "name" | "style" | "growing"> & { notes: string };

// About changes what can change of a bow itself: its name, its notes, and
// whether it stands on the bench.
export function About({ bow, tag, changed }: { bow: Bow; tag: string; changed: () => void }) {
  const key = `about|${bow.id}|${tag}`;
  const [form, setForm, clear] = useDraft<AboutDraft>(key, shown(bow));
  const [problem, setProblem] = useState<Problem>();
  const [said, setSaid] = useState("");
  const [sent, setSent] = useState<Partial<Bow>>(form); // what was refused, to be sent after all
  const { busy, run } = useBusy();
  const saved = useRef<{ key: string; as: AboutDraft } | undefined>(undefined);
  useEffect(() => { // what was typed while the rest was on its way goes on in the version that came of it
    const was = saved.current;
    if (!was || was.key === key) return;
    const more = newer(was.as, readDraft<AboutDraft>(was.key));
    dropDraft(was.key);
    saved.current = undefined;
    if (Object.keys(more).length > 0) setForm((f) => ({ ...f, ...more }));
  }, [key]);
  const save = (next: Partial<Bow>, from = tag, of = bow) => run(async () => {
    setProblem(undefined);
    setSaid("");
    setSent(next);
    try {
      await changeBow(of, from, next);
      saved.current = { key, as: shown({ ...of, ...next }) };
      const as = saved.current.as, nothing = (more: object) => Object.keys(more).length === 0;
      if (nothing(newer(shown(bow), as)) && nothing(newer(as, readDraft<AboutDraft>(key)))) clear(); // nothing came of it, and nothing waits in the form
      setSaid("Saved.");
      changed();
    } catch (e) {
      setProblem(asProblem(e));
    }
  });
  const keepTheirs = () => { setProblem(undefined); clear(); changed(); };
  return (
    <details class="card">
      <summary>Name, notes, put away</summary>
      <form noValidate onSubmit={(e) => { e.preventDefault(); void save(form); }}>
        <Field label="Name" required value={form.name} error={problem?.at("name")} onInput={(name) => setForm((f) => ({ ...f, name }))} />
        <Pick label="Shot as" value={form.style} options={[["recurve", "recurve"], ["barebow", "barebow"]]} onInput={(style) => setForm((f) => ({ ...f, style }))} />
        <Field label="Notes on this bow" lines={3} value={form.notes} error={problem?.at("notes")} onInput={(notes) => setForm((f) => ({ ...f, notes }))} />
        <Pick label="Who shoots it" value={form.growing ? "growing" : ""} options={[["", "is grown"], ["growing", "is growing", "draw length is checked every quarter"]]} onInput={(g) => setForm((f) => ({ ...f, growing: g === "growing" }))} />
        <div class="row">
          <button type="submit">{busy ? "Saving…" : "Save"}</button>
          <button type="button" class="quiet" onClick={() => void save({ archived: !bow.archived })}>{bow.archived ? "Back on the bench" : "Put this bow away"}</button>
        </div>
      </form>
      {problem && <Clash<Bow> problem={problem} what="Name and notes" keepTheirs={keepTheirs} sendMine={(now, theirs) => save(sent, now, theirs)} />}
      {said && <Note>{said}</Note>}
    </details>
  );
}

// shown is a bow as the form shows it.
const shown = (of: Bow): AboutDraft => ({ name: of.name, style: of.style, notes: of.notes ?? "", growing: of.growing });

// newer is what of a form differs from what was sent.
function newer(sent: AboutDraft, now: AboutDraft | undefined): Partial<AboutDraft> {
  return Object.fromEntries(Object.entries(now ?? sent).filter(([k, v]) => v !== sent[k as keyof AboutDraft]));
}
