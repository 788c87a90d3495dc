import { useState } from "preact/hooks";
import { useDraft } from "../lib/draft";
import { api, put, type Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { replace } from "../lib/route";
import { uuidv7 } from "../lib/uuid";
import { Field } from "../ui/field";
import { Wrong } from "../ui/states";
import { Value } from "./planned";
import { sendEvent } from "./send";
import type { Page } from "./trial";
import type { ChoiceView, Verdict } from "./types";
import { named, turns } from "./words";

// Choices lists the brace heights that were measured, with what each would
// cost and make stale. The person chooses; the notebook makes the next set-up.
export function Choices({ view, v }: Page & { v: Verdict }) {
  const [open, setOpen] = useState<number | null>(null);
  if (v.choices.length === 0) {
    return <section class="card"><h2>Choose</h2><p>No brace height was measured yet. Read the first stop, and it can be chosen here.</p><a class="button main" href={`/trials/${view.trial.id}`}>To the stops</a></section>;
  }
  return (
    <section class="card no-print" aria-label="Choose a brace height">
      <h2>Choose, knowingly</h2>
      <p>Any brace height you measured can be the next set-up. Costs are the model's, against the set-up the trial began with.</p>
      <ul class="plain choices">
        {v.choices.map((c) => (
          <li key={c.stop}>
            <button type="button" class="pick-one" aria-expanded={open === c.stop} onClick={() => setOpen(open === c.stop ? null : c.stop)}>
              <strong class="num">{c.brace_height.text}</strong>{c.spot && <span> {c.spot}</span>}
              <span class="faint num"> speed {named(c.changes, "speed")?.text ?? "unknown"}</span>
            </button>
            {open === c.stop && <One c={c} view={view} />}
          </li>
        ))}
      </ul>
    </section>
  );
}

function One({ c, view }: { c: ChoiceView; view: Page["view"] }) {
  const id = view.trial.id;
  const [draft, set, clear] = useDraft(`trial:${id}:choice:${c.stop}`, { setup: uuidv7(), reason: "" });
  const [state, setState] = useState<Problem | "busy" | null>(null);
  const choose = async () => {
    setState("busy");
    set((now) => now); // the id is kept before it is sent: a second try is the same set-up
    try {
      await put(`${api}/trials/${id}/choices/${draft.setup}`, { stop: c.stop, ...(draft.reason.trim() ? { reason: draft.reason.trim() } : {}) });
      clear();
      if (view.brief.state !== "finished") await sendEvent(id, "finished");
      replace(`/bows/${view.trial.bow}`);
    } catch (e) {
      setState(asProblem(e));
    }
  };
  return (
    <div class="one">
      <p>From where the trial began: <strong>{turns(c.turns_from_now)}</strong>.</p>
      <dl class="facts">{c.changes.map((d) => [<dt key={d.name}>{d.label}</dt>, <dd key={d.name + "v"}><Value d={d} /></dd>])}</dl>
      <h3>It would make stale</h3>
      <ul>{c.stale.map((s) => <li key={s}>{s}</li>)}</ul>
      <Field label="Why this one" lines={2} value={draft.reason} onInput={(v) => set((now) => ({ ...now, reason: v }))} name="reason" help="For the day you ask yourself. Empty: the verdict's own words." />
      {state && state !== "busy" && <Wrong problem={state} />}
      <button type="button" class="main" disabled={state === "busy"} onClick={() => void choose()}>{state === "busy" ? "Making the set-up …" : `Choose ${c.brace_height.text}`}</button>
    </div>
  );
}
