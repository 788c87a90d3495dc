import { useMe } from "../lib/me";
import { Choice, Field, Quantity } from "../ui/field";
import type { Entry, Group, ListEntry } from "./fields";
import { lists } from "./fields";
import { withRows, withText, type Typed } from "./typed";

// The fields of a set-up's form. Errors are looked up by the entry's pointer.

export type Hand = "right" | "left";

// hand is the one that the bow's archer draws with; left out: who types.
export interface FormProps { typed: Typed; onTyped: (next: Typed) => void; errors: Map<string, string>; hand?: Hand }

export function EntryField({ entry, now, ...form }: FormProps & { entry: Entry; now?: string }) {
  const mine = useMe().me?.person.hand ?? "right";
  const value = form.typed.texts[entry.at] ?? "";
  const shared = {
    name: entry.at, label: entry.label, value, required: entry.required, placeholder: entry.example && `like ${entry.example}`,
    onInput: (v: string) => form.onTyped(withText(form.typed, entry.at, v)),
    error: form.errors.get(entry.at), help: helpOf(entry, now, form.hand ?? mine),
  };
  switch (entry.kind) {
    case "quantity": return <Quantity {...shared} quantity={entry.quantity} field={entry.field} />;
    case "count": return <Field {...shared} inputMode="decimal" />;
    case "words": return <Field {...shared} lines={entry.lines} />;
    case "choice": return <Choice {...shared} value={value || entry.options[0]![0]} options={entry.options} />;
    case "toggle":
      return (
        <label class="choice">
          <input type="checkbox" checked={value === "true"} onChange={(e) => shared.onInput(e.currentTarget.checked ? "true" : "")} />
          {entry.label}
        </label>
      );
  }
}

// helpOf mirrors its words for the hand that draws; the reading never mirrors.
function helpOf(entry: Entry, now: string | undefined, hand: Hand): string {
  const empty = entry.empty && `Left empty: ${entry.empty} is assumed.`;
  return [entry.help?.replace("{outward}", hand === "right" ? "left" : "right"), empty, now && `Now: ${now}.`].filter(Boolean).join(" ");
}

export function GroupFields({ group, ...form }: FormProps & { group: Group }) {
  return (
    <fieldset>
      <legend>{group.title}</legend>
      {group.hint && <p class="help">{group.hint}</p>}
      {group.entries.map((e) => <EntryField key={e.at} entry={e} {...form} />)}
    </fieldset>
  );
}

// DetailFields holds the rest, folded; a section with something in it or wrong
// with it says so while it is closed.
export function DetailFields({ groups, ...form }: FormProps & { groups: Group[] }) {
  return (
    <>
      {groups.map((g) => {
        const filled = g.entries.filter((e) => (form.typed.texts[e.at] ?? "").trim() !== "").length;
        const wrong = g.entries.some((e) => form.errors.has(e.at));
        return (
          <Section key={g.title} title={g.title} filled={filled} wrong={wrong}>
            {g.hint && <p class="help">{g.hint}</p>}
            {g.entries.map((e) => <EntryField key={e.at} entry={e} {...form} />)}
          </Section>
        );
      })}
      {lists.map((l) => {
        const wrong = [...form.errors.keys()].some((at) => at.startsWith(l.at));
        return (
          <Section key={l.at} title={l.title} filled={(form.typed.rows[l.at] ?? []).length} wrong={wrong}>
            <ListFields list={l} {...form} />
          </Section>
        );
      })}
    </>
  );
}

function Section({ title, filled, wrong, children }: { title: string; filled: number; wrong: boolean; children: preact.ComponentChildren }) {
  return (
    <details class="section" open={wrong || undefined}>
      <summary>
        <span>{title}</span>
        <span class="faint small">{wrong ? "something to put right" : filled > 0 ? `${filled} entered` : "defaults"}</span>
      </summary>
      <div class="inside">{children}</div>
    </details>
  );
}

function ListFields({ list, ...form }: FormProps & { list: ListEntry }) {
  const rows = form.typed.rows[list.at] ?? [];
  const set = (next: Record<string, string>[]) => form.onTyped(withRows(form.typed, list.at, next));
  return (
    <>
      <p class="help">{list.help}</p>
      {rows.map((row, i) => (
        <fieldset key={i} class="list-row">
          <legend>{list.row} {i + 1}</legend>
          {form.errors.has(`${list.at}/${i}`) && <p class="error">{form.errors.get(`${list.at}/${i}`)}</p>}
          {list.columns.map((c) => {
            const shared = {
              label: c.label, name: `${list.at}/${i}/${c.name}`, value: row[c.name] ?? "", placeholder: `like ${c.example}`, required: true,
              onInput: (v: string) => set(rows.map((r, k) => (k === i ? { ...r, [c.name]: v } : r))),
              error: form.errors.get(`${list.at}/${i}/${c.name}`),
            };
            return c.quantity ? <Quantity key={c.name} {...shared} quantity={c.quantity} /> : <Field key={c.name} {...shared} />;
          })}
          <button type="button" class="quiet" onClick={() => set(rows.filter((_, k) => k !== i))}>Take this {list.row} out</button>
        </fieldset>
      ))}
      <button type="button" onClick={() => set([...rows, {}])}>Add a {list.row}</button>
    </>
  );
}
