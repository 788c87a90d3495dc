import { useBusy } from "../lib/busy";
import { asProblem } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { uuidv7 } from "../lib/uuid";
import { before, bothRight, questionAt } from "./question";
import { sendReading, standing } from "./send";
import type { Page } from "./trial";
import type { Answer, StopReading } from "./types";
import { behindOf, length } from "./words";
import { useState } from "preact/hooks";

// Asks puts the friendly question when turns and brace height disagree. No
// reading is refused; every answer is one tap.
export function Asks({ view, setup, stop, again, correct }: Page & { stop: number; correct: (r: StopReading) => void }) {
  const unit = useMe().me?.unit_symbols.setting ?? "mm", comma = useComma();
  const [problem, setProblem] = useState<string>();
  const { busy, run } = useBusy();
  const behind = behindOf(setup);
  const question = questionAt(view, stop, (m) => length(m, unit, comma), behind);
  if (!question) return null;
  const s = view.stops[stop]!;
  const brace = standing(s.readings, "brace_height").at(-1);
  const note = (kind: string, text: string, more = {}) =>
    void run(() => sendReading(view.trial, stop, uuidv7(), { kind, text, ...more }).then(again, (e: unknown) => setProblem(asProblem(e).message)));
  const answer = (a: Answer) => {
    switch (a.key) {
      case "turns": case "reversed":
        return note("turns", String(before(view, stop) + a.turns), { corrects: standing(s.readings, "turns").at(-1)?.reading.id });
      case "button":
        return brace && note("brace_height", brace.reading.text, { edge: "button", corrects: brace.reading.id });
      case "settle":
        return brace && correct(brace);
    }
    return note("note", bothRight);
  };
  return (
    <section class="note asks-box" aria-label="A question" aria-live="polite">
      <p>{question.text}</p>
      {problem && <p class="error">{problem}</p>}
      <div class="row">{question.answers.map((a) => <button type="button" key={a.key} disabled={busy} onClick={() => answer(a)}>{a.text}</button>)}</div>
    </section>
  );
}

