import { useState } from "preact/hooks";
import { useDraft } from "../lib/draft";
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
  const [form, setForm, clear] = useDraft<AboutDraft>(`about|${bow.id}|${tag}`, { name: bow.name, style: bow.style, notes: bow.notes ?? "", growing: bow.growing });
  const [problem, setProblem] = useState<Problem>();
  const [said, setSaid] = useState("");
  const [sent, setSent] = useState<Partial<Bow>>(form); // what was refused, to be sent after all
  const save = async (next: Partial<Bow>, from = tag, of = bow) => {
    setProblem(undefined);
    setSaid("");
    setSent(next);
    try {
      await changeBow(of, from, next);
      clear();
      setSaid("Saved.");
      changed();
    } catch (e) {
      setProblem(asProblem(e));
    }
  };
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
          <button type="submit">Save</button>
          <button type="button" class="quiet" onClick={() => void save({ archived: !bow.archived })}>{bow.archived ? "Back on the bench" : "Put this bow away"}</button>
        </div>
      </form>
      {problem && <Clash<Bow> problem={problem} what="Name and notes" keepTheirs={keepTheirs} sendMine={(now, theirs) => save(sent, now, theirs)} />}
      {said && <Note>{said}</Note>}
    </details>
  );
}
