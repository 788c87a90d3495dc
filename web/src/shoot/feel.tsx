import { useState } from "preact/hooks";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { uuidv7 } from "../lib/uuid";
import { Feel } from "../trial/record";
import { sendReading } from "../trial/send";
import { Wrong } from "../ui/states";
import type { ShootView, Step } from "./types";

// FeelStop notes how a setting felt, one tap, without knowing which it was.
export function FeelStop({ view, step, noted }: { view: ShootView; step: Step; noted: () => void }) {
  const [said, setSaid] = useState("");
  const [problem, setProblem] = useState<Problem>();
  const [last, setLast] = useState<string>();
  const set = (v: string) => {
    if (v === "") return;
    const id = uuidv7();
    setProblem(undefined);
    sendReading({ id: view.id, bow: view.bow, setup: view.setup } as Parameters<typeof sendReading>[0], step.position, id, { kind: "feel", text: v, corrects: last }).then(
      () => { setLast(id); setSaid(v); noted(); }, (e: unknown) => setProblem(asProblem(e)));
  };
  return (
    <section class="card" aria-label="How it felt">
      <Feel value={said} set={set} />
      {said && <p role="status">Noted. Tap another to correct it.</p>}
      {problem && <Wrong problem={problem} />}
    </section>
  );
}
