import { useEffect, useMemo, useState } from "preact/hooks";
import { api, post, Problem, sentence } from "../lib/http";
import { asProblem } from "../lib/load";
import { useMe } from "../lib/me";
import type { CheckView, FieldError, Tree } from "../lib/types";
import { entries, entryAt } from "./fields";
import { toSettings, type Typed } from "./typed";

// Checked is what the notebook says of a form's content, as it now stands.
export interface Checked { view?: CheckView; of?: Typed; problem?: Problem; busy: boolean }

// askCheck asks the notebook about settings; what the form could not even send
// joins the errors that the notebook finds.
export async function askCheck(settings: Tree, unsendable: FieldError[], parent: string | undefined, preview: boolean, signal?: AbortSignal): Promise<CheckView> {
  const view = await post<CheckView>(`${api}/setups/check`, { settings, parent, preview: preview && unsendable.length === 0 }, signal);
  const found = [...unsendable, ...view.errors.filter((e) => !unsendable.some((u) => u.field === e.field))];
  const errors = [...found, ...missing(settings).filter((m) => !found.some((e) => e.field === m.field))];
  // A range that is itself at fault is nothing to hold a brace height against.
  const brace = errors.some((e) => /^\/(limbs\/range|brace_height|riser\/offset)/.test(e.field)) ? undefined : view.brace;
  return { ...view, brace, ok: errors.length === 0, errors };
}

// missing names every required entry that is empty, also where the form asks
// for more than the notebook does.
function missing(settings: Tree): FieldError[] {
  const holds = (at: string) => at.split("/").slice(1).reduce<unknown>((node, name) => (node as Tree | undefined)?.[name], settings) !== undefined;
  return entries.filter((e) => e.required && !holds(e.at)).map((e) => ({ field: e.at, code: "invalid", message: `the ${e.label.toLowerCase()} is missing`, hint: e.example && `something like ${e.example}` }));
}

// useCheck asks while the form is being filled in, once the typing rests. The
// last answer stays until the next one, so that nothing flickers.
export function useCheck(typed: Typed, prepare: (settings: Tree) => Tree, parent?: string): Checked {
  const person = useMe().me?.person;
  const key = JSON.stringify([typed, parent, person?.units, person?.decimal_comma]);
  const [held, setHeld] = useState<{ key: string; view?: CheckView; of?: Typed; problem?: Problem }>({ key: "" });
  useEffect(() => {
    const stop = new AbortController();
    const timer = setTimeout(() => {
      const { settings, errors } = toSettings(typed);
      askCheck(prepare(settings), errors, parent, true, stop.signal).then(
        (view) => setHeld({ key, view, of: typed }),
        (e: unknown) => { if (!stop.signal.aborted) setHeld((now) => ({ ...now, key, problem: asProblem(e) })); },
      );
    }, 500);
    return () => { clearTimeout(timer); stop.abort(); };
  }, [key]);
  return { view: held.view, of: held.of, problem: held.key === key ? held.problem : undefined, busy: held.key !== key };
}

// useErrors gives the errors to show beside the fields: of an entry that is
// filled in as soon as they are known, of an empty one only after saving was
// tried, because nobody likes to be told what they are about to type.
function useErrors({ view, of }: Checked, typed: Typed, tried: boolean): Map<string, string> {
  return useMemo(() => {
    const text = (t: Typed | undefined, at: string) => (t?.texts[at] ?? "").trim();
    const holds = (e: FieldError) => text(of, e.field) === text(typed, e.field); // an old answer says nothing of a new text
    const due = (e: FieldError) => tried || text(typed, e.field) !== "" || !entryAt.has(e.field);
    return errorMap((view?.errors ?? []).filter((e) => holds(e) && due(e)));
  }, [view, of, typed, tried]);
}

// Tried is what the last try to save found wrong; it holds for the content that
// was tried, not for what was typed since.
export interface Tried { typed: Typed; errors: FieldError[] }

// useFormErrors joins what is known while typing with what saving found.
export function useFormErrors(checked: Checked, typed: Typed, tried: Tried | undefined): Map<string, string> {
  const live = useErrors(checked, typed, tried !== undefined);
  return tried?.typed === typed ? new Map([...live, ...errorMap(tried.errors)]) : live;
}

export function errorMap(errors: FieldError[]): Map<string, string> {
  const map = new Map<string, string>();
  for (const e of errors) if (!map.has(e.field)) map.set(e.field, sentence(e));
  return map;
}

// showFirst brings the first field at fault into sight and puts the cursor in
// it; a folded section opens.
export function showFirst(): void {
  requestAnimationFrame(() => {
    const field = document.querySelector<HTMLElement>("[aria-invalid=true]");
    field?.closest("details")?.setAttribute("open", "");
    field?.focus();
    field?.scrollIntoView({ block: "center" });
  });
}
