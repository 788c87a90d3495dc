import { useEffect, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { told } from "../lib/http";
import { useGet } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { useAddress, type Query } from "../lib/query";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { Note, Quantity } from "../ui/field";
import { Answer, Waits } from "../ui/states";
import { usual, useTarget, type Answers } from "./ask";
import { Behind, Holes } from "./shown";
import { Slider } from "./slider";
import type { Move, TargetView } from "./types";
import { BowDoors, NeedsArrow, NeedsSetUp } from "./doors";

// TargetPage shows what the holes would do if something on the bow were moved:
// a slider's step is seen at once, the exact run with its doubt follows.
export function TargetPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Target: ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <>
      <p class="crumb"><a href={`/bows/${id}`}>{bow.value?.bow.name ?? "Bow"}</a></p>
      <h1>What will this change do at the target?</h1>
      <Answer of={bow} what="Opening the bow…">
        {(view) => view.setup ? <WhatIf key={view.setup.setup.id} bow={view} setup={view.setup.setup.id} /> : <NeedsSetUp bow={id} what="The target needs the bow's settings: draw length, draw weight, brace height, and the arrow's mass and static spine." />}
      </Answer>
    </>
  );
}

function WhatIf({ bow, setup }: { bow: BowView; setup: string }) {
  const person = useMe().me?.person, comma = useComma();
  const [query, setQuery] = useAddress();
  const { at = "30 m", ...moves } = query, chosen = at.trim() === "" ? "30 m" : at;
  const all = usual.includes(chosen) ? usual : [...usual, chosen];
  const answers = useTarget({ setup, moves, distances: all }, `${person?.units}${person?.decimal_comma}${person?.hand}`);
  const view = answers.view, problem = answers.problem;
  useDrawn(view);
  if (problem?.at("/arrow/spine") || problem?.at("/arrow/mass")) return <NeedsArrow bow={bow.bow.id} problem={problem} />;
  if (!view) return problem ? <Note kind="warn"><p>Nothing can be computed yet. {told(problem)}</p><a class="button" href={`/bows/${bow.bow.id}/change`}>Change the set-up</a></Note> : <Waits what="Shooting the model…" />;
  const errors = (name: string) => (name in moves ? problem?.at(`/moves/${name}`) : undefined);
  const shown = Math.min(Math.max(0, all.indexOf(chosen)), view.distances.length - 1);
  const seen = { view, shown, busy: answers.busy, changed: Object.keys(moves).length > 0 };
  return (
    <>
      <div class="whatif">
        <Holes {...seen} onShow={(i) => setQuery({ ...query, at: all[i]! })} />
        <div>
          <Moves view={view} moves={moves} comma={comma} errors={errors} onMoves={(next) => setQuery({ ...next, ...(chosen === "30 m" ? {} : { at: chosen }) })} />
          <Quantity label="Another distance" name="at" quantity="distance" field="distance" value={usual.includes(chosen) ? "" : chosen} placeholder="like 25 m" error={problem?.at(`/distances/${usual.length}`)}
            onInput={(v) => setQuery({ ...query, at: v })} />
          {problem && <Trouble answers={answers} view={view} />}
        </div>
      </div>
      <Behind {...seen} />
      <BowDoors bow={bow.bow.id} here="target" moves={moves} />
    </>
  );
}

// Trouble says what no field can say for itself.
function Trouble({ answers, view }: { answers: Answers; view: TargetView }) {
  const p = answers.problem!;
  if (p.fields.some((f) => f.field.startsWith("/distances/") || view.moves.some((m) => f.field === `/moves/${m.name}`))) return null;
  return <Note kind="warn">{p.offline ? "The notebook does not answer just now: the picture is of the last change it saw." : told(p)}</Note>;
}

// useDrawn notes how long a change took until it was on the picture, for
// whoever measures the page.
function useDrawn(view: TargetView | undefined): void {
  useEffect(() => {
    if (!view) return;
    const frame = requestAnimationFrame(() => {
      if (performance.getEntriesByName("change").length === 0) return;
      performance.measure(view.exact ? "change to exact" : "change to picture", "change");
    });
    return () => cancelAnimationFrame(frame);
  }, [view]);
}

const reversible = ["brace_height", "button_preload", "button_stiffness", "centre_shot"];

function Moves({ view, moves, comma, errors, onMoves }: { view: TargetView; moves: Query; comma: boolean; errors: (name: string) => string | undefined; onMoves: (next: Query) => void }) {
  const set = (name: string, text: string) => {
    const { [name]: _, ...rest } = moves;
    onMoves(text === "" ? rest : { ...rest, [name]: text });
  };
  const show = (m: Move) => <Slider key={m.name} move={m} comma={comma} text={moves[m.name] ?? ""} onText={(t) => set(m.name, t)} help={helpFor(m.name, view)} error={errors(m.name)} />;
  const first = view.moves.filter((m) => reversible.includes(m.name)), rest = view.moves.filter((m) => !reversible.includes(m.name));
  const [open] = useState(() => rest.some((m) => moves[m.name]));
  return (
    <>
      <fieldset>
        <legend>On the bow: try these first</legend>
        {first.map(show)}
      </fieldset>
      <details class="section" open={open}>
        <summary><span>Arrow and draw</span><span class="faint small">borrow, before you buy or cut</span></summary>
        <div class="inside">{rest.map(show)}</div>
      </details>
      <p class="row"><button type="button" class="quiet" disabled={Object.keys(moves).length === 0} onClick={() => onMoves({})}>Everything back to the set-up</button></p>
    </>
  );
}

// helpFor mirrors its words for the hand that draws; the reading never mirrors.
function helpFor(name: string, view: TargetView): string | undefined {
  switch (name) {
    case "button_preload": return "The force at which the plunger starts to move; turning the button in raises it.";
    case "button_stiffness": return "Another spring, with the preload kept.";
    case "centre_shot": return `Outward, to the ${view.hand === "right" ? "left" : "right"} as you look along the arrow, is positive.`;
    case "point_mass": return "The arrow's mass goes with it.";
    case "shaft_length": return "The arrow's mass goes with it.";
    case "draw_length": return "The same bow, drawn further: draw weight and speed go with it.";
    case "spine": return "A larger number is a softer shaft.";
  }
  return undefined;
}

