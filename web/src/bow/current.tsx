import type { BowView, SetUpView } from "../lib/types";
import { number, when } from "../lib/words";
import { saveFile } from "../lib/file";
import { useComma, useMe } from "../lib/me";
import { Facts, Note } from "../ui/field";
import { RangeBar } from "../ui/range";
import { groups, lists, type Entry } from "./fields";
import { SafetyNotes } from "./forecast";
import { fromSettings, type Typed } from "./typed";

// CurrentSetUp lists everything that is set, grouped, in this person's units;
// what was typed in another unit stands behind.
export function CurrentSetUp({ view, setup }: { view: BowView; setup: SetUpView }) {
  const comma = useComma();
  const { typed } = fromSettings(setup.setup.settings, comma);
  return (
    <section class="card">
      <h2>Set-up now</h2>
      <SafetyNotes view={{ brace: view.brace, shown: setup.shown }} />
      <RangeBar brace={view.brace} />
      <OffsetNote shown={setup.shown} />
      <MovedNote view={view} setup={setup} />
      {groups.map((g) => <Shown key={g.title} title={g.title} entries={g.entries} typed={typed} shown={setup.shown} />)}
      {lists.filter((l) => (typed.rows[l.at] ?? []).length > 0).map((l) => (
        <div key={l.at}>
          <h3>{l.title}</h3>
          <ul class="plain num">{typed.rows[l.at]!.map((r, i) => <li key={i}>{l.columns.map((c) => setup.shown[`${l.at}/${i}/${c.name}`]?.text ?? r[c.name]).filter(Boolean).join(", ")}</li>)}</ul>
        </div>
      ))}
      <Assumed typed={typed} />
      <p class="doubt">Written down {when(setup.setup.at)}{setup.setup.reason ? `: ${setup.setup.reason.replace(/[.\s]+$/, "")}` : ""}. Settings are as you gave them; they carry no doubt of their own.</p>
      {/* as typed; the command line reads the same: tautline predict BOW.json */}
      <button type="button" class="quiet" onClick={() => saveFile(view.bow.name, setup.setup.settings)}>Save as a bow file</button>
    </section>
  );
}

// Assumed lists what the forecasts take as usual until it is entered.
function Assumed({ typed }: { typed: Typed }) {
  const rows = groups.flatMap((g) => g.entries).flatMap((e): [string, preact.ComponentChildren][] => (e.empty && (typed.texts[e.at] ?? "") === "" ? [[e.label, <>{e.empty} <span class="tag">assumed</span></>]] : []));
  if (rows.length === 0) return null;
  return (
    <details>
      <summary>{rows.length === 1 ? "One entry is assumed" : `${rows.length} entries are assumed`} until you enter them</summary>
      <Facts rows={rows} />
    </details>
  );
}

// OffsetNote says why the range on the bar is not the one on the limb's label.
function OffsetNote({ shown }: { shown: SetUpView["shown"] }) {
  const offset = shown["/riser/offset"], low = shown["/limbs/range_low"], high = shown["/limbs/range_high"];
  if (!offset || offset.si === 0 || !low || !high) return null;
  return <p class="doubt">The limb maker says {low.text} to {high.text}. On this riser the pivot lies {offset.text} further back than usual, so a square reads that much less.</p>;
}

// MovedNote says when the last reading is not what the set-up says. Half a
// millimetre is what a square resolves.
function MovedNote({ view, setup }: { view: BowView; setup: SetUpView }) {
  const written = setup.shown["/brace_height/value"], read = view.brace.pivot;
  const toButton = (setup.setup.settings.brace_height as { from?: string } | undefined)?.from === "button";
  if (!view.brace.measured || !read || toButton || setup.unsent) return null;
  if (written && Math.abs(written.si - read.si) <= 0.0005) return null;
  return (
    <Note kind="warn">
      <p>Last measured {read.text}; {written ? `this set-up says ${written.text}` : "this set-up has no brace height yet"}. Forecasts use the set-up.</p>
      <a class="button" href={`/bows/${view.bow.id}/change?pick=brace`}>{written ? "Make it a change" : "Enter it"}</a>
    </Note>
  );
}

function Shown({ title, entries, typed, shown }: { title: string; entries: Entry[]; typed: Typed; shown: SetUpView["shown"] }) {
  const rows = entries.filter((e) => (typed.texts[e.at] ?? "") !== "").map((e): [string, preact.ComponentChildren] => [e.label, <Value key={e.at} entry={e} typed={typed.texts[e.at]!} shown={shown} />]);
  if (rows.length === 0) return null;
  return <div class="fact-group"><h3>{title}</h3><Facts rows={rows} /></div>;
}

function Value({ entry, typed, shown }: { entry: Entry; typed: string; shown: SetUpView["shown"] }) {
  const comma = useComma();
  const units = useMe().me?.person.units;
  if (entry.kind === "choice") return <>{entry.options.find(([v]) => v === typed)?.[1] ?? typed}</>;
  if (entry.kind === "toggle") return <>{typed === "true" ? "yes" : "no"}</>;
  const said = shown[entry.at];
  if (entry.kind !== "quantity" || !said) return <>{typed}</>;
  // Nobody weighs a riser in grains.
  const text = entry.at !== "/riser/mass" ? said.text : units === "imperial" ? `${number(said.si / 0.45359237, 2, comma)} lb` : `${number(said.si, 2, comma)} kg`;
  return <>{text}{same(text, typed) ? null : <span class="faint small"> typed {typed}</span>}</>;
}

// same tells whether two texts are of the same scale: who reads 224 mm need not
// be told that 22.4 cm was typed, but 8 3/4 in is worth keeping in sight.
function same(shown: string, typed: string): boolean {
  const scale = (s: string) => /(mm|cm|m)$/i.test(s) ? "metric" : /(in|["”″])$/i.test(s) ? "inch" : /(#|lbf?s?)$/i.test(s) ? "pound" : /gr(ains?)?$/i.test(s) ? "grain" : /g$/i.test(s) ? "gram" : /\d$/.test(s) ? "bare" : s;
  return scale(shown.trim()) === scale(typed.trim());
}
