import type { Update } from "../lib/draft";
import { sentence, type Problem } from "../lib/http";
import { Choice, Field, Quantity } from "../ui/field";
import type { Plan } from "./types";
import { countOf } from "./words";

// Asked is what a person decides of a trial, as typed, with the id that the
// trial will have: a plan begun twice by a double tap is one trial.
export interface Asked { id: string; turns: string; order: string; arrows: string; settling: string; low: string; high: string; a: string; b: string }

export const unasked: Asked = { id: "", turns: "3", order: "", arrows: "6", settling: "", low: "", high: "", a: "", b: "" };

// askOf gives the wish as the API takes it, and the fields that cannot be read.
export function askOf(a: Asked): { ask: Record<string, unknown>; bad: Map<keyof Asked, string> } {
  const ask: Record<string, unknown> = {}, bad = new Map<keyof Asked, string>();
  const count = (field: "turns" | "arrows" | "settling", name: string, low: number, high: number, whole: boolean) => {
    if (a[field].trim() === "") return;
    const n = countOf(a[field]);
    if (!(n >= low && n <= high) || (whole && !Number.isInteger(n))) bad.set(field, `Write a ${whole ? "whole " : ""}number from ${low} to ${high}, like ${field === "arrows" ? 6 : 3}.`);
    else if (n > 0) ask[name] = n;
  };
  count("turns", "turns_per_step", 1, 20, false);
  count("arrows", "arrows_per_stop", 1, 100, true);
  count("settling", "settling_shots", 1, 50, true);
  if (a.order) ask.order = a.order;
  if (a.order === "abba") Object.assign(ask, { stop_a: a.a, stop_b: a.b });
  if (a.low) ask.low = a.low;
  if (a.high) ask.high = a.high;
  return { ask, bad };
}

const fieldOf: Record<string, keyof Asked> = {
  turns_per_step: "turns", order: "order", arrows_per_stop: "arrows", settling_shots: "settling",
  low: "low", high: "high", range_low: "low", range_high: "high", stop_a: "a", stop_b: "b", stops: "turns",
};

// errorsOf puts the notebook's objections beside their fields.
function errorsOf(asked: Asked, problem?: Problem): Map<keyof Asked, string> {
  const errors = askOf(asked).bad;
  for (const f of problem?.fields ?? []) {
    const field = fieldOf[f.field.split(/[/.]/).pop()!.replaceAll(" ", "_")];
    if (field && !errors.has(field)) errors.set(field, sentence(f));
  }
  return errors;
}

export function AskForm({ asked, set, needsRange, problem, plan }: { asked: Asked; set: Update<Asked>; needsRange: boolean; problem?: Problem; plan?: Plan }) {
  const put = (field: keyof Asked) => (v: string) => set((now) => ({ ...now, [field]: v }));
  const errors = errorsOf(asked, problem);
  const settling = plan?.stops[0]?.settling_shots;
  return (
    <section class="card" aria-label="What you decide">
      <h2>What you decide</h2>
      {needsRange && (
        <>
          <p>The limb maker's brace-height range is not entered for this bow. It stands in the limbs' leaflet; a trial stays inside it.</p>
          <div class="pairs">
            <Quantity label="Range from" quantity="setting" field="brace_height" required value={asked.low} onInput={put("low")} error={errors.get("low")} placeholder="21 cm" name="low" />
            <Quantity label="Range to" quantity="setting" field="brace_height" required value={asked.high} onInput={put("high")} error={errors.get("high")} placeholder="23 cm" name="high" />
          </div>
        </>
      )}
      <div class="pairs">
        <Field label="Turns per step" value={asked.turns} onInput={put("turns")} inputMode="decimal" error={errors.get("turns")} name="turns_per_step" required help="Fewer turns: finer, but more stops." />
        <Field label="Arrows to count at each stop" value={asked.arrows} onInput={put("arrows")} inputMode="numeric" error={errors.get("arrows")} name="arrows_per_stop" required help="More arrows: a surer verdict." />
        <Field label="Settling shots before measuring" value={asked.settling} onInput={put("settling")} inputMode="numeric" error={errors.get("settling")} name="settling_shots" placeholder={settling ? String(settling) : "3"} help="They are shot, not counted: a turned string beds in." />
        <Choice label="Start" value={asked.order} onInput={put("order")} error={errors.get("order")} options={[
          ["", "from the nearer end"], ["up", "low end, upward"], ["down", "high end, downward"], ["abba", "compare two: A, B, B, A"],
        ]} help={plan && asked.order !== "abba" ? undefined : "A-B-B-A visits two brace heights twice, so that a steady drift cancels."} />
      </div>
      {asked.order === "abba" && (
        <div class="pairs">
          <Quantity label="Brace height A" quantity="setting" field="brace_height" required value={asked.a} onInput={put("a")} error={errors.get("a")} name="stop_a" />
          <Quantity label="Brace height B" quantity="setting" field="brace_height" required value={asked.b} onInput={put("b")} error={errors.get("b")} name="stop_b" />
        </div>
      )}
    </section>
  );
}

