import { useRef, useState } from "preact/hooks";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { uuidv7 } from "../lib/uuid";
import { Feel } from "../trial/record";
import { sendReading } from "../trial/send";
import { Wrong } from "../ui/states";
import type { ShootView, Step } from "./types";

// FeelStop notes how a setting felt, one tap, without knowing which it was.
// holds are the notes of how the sight stood at full draw.
const holds: [string, string][] = [["1", "wandered"], ["2", "moved"], ["3", "fair"], ["4", "quiet"], ["5", "stood"]];

export function FeelStop({ view, step, noted, hold = false }: { view: ShootView; step: Step; noted: () => void; hold?: boolean }) {
  const [said, setSaid] = useState("");
  const [problem, setProblem] = useState<Problem>();
  const last = useRef<{ id: string; v: string } | undefined>(undefined), row = useRef(Promise.resolve()); // one tap after the other: the next corrects the one before
  const note = async (v: string) => {
    if (last.current?.v === v) return;
    const id = uuidv7();
    setProblem(undefined);
    try {
      await sendReading({ id: view.id, bow: view.bow, setup: view.setup } as Parameters<typeof sendReading>[0], step.position, id, { kind: "feel", text: v, corrects: last.current?.id });
      last.current = { id, v };
      setSaid(v);
      noted();
    } catch (e) {
      setProblem(asProblem(e));
    }
  };
  const set = (v: string) => { if (v !== "") row.current = row.current.then(() => note(v)); };
  return (
    <section class="card" aria-label={hold ? "How it held" : "How it felt"}>
      {hold && <p>Before you look at the target: how did the sight stand at full draw in this end?</p>}
      <Feel value={said} set={set} {...(hold && { asks: "How did it hold?", words: holds })} />
      {said && <p role="status">Noted. Tap another to correct it.</p>}
      {problem && <Wrong problem={problem} />}
    </section>
  );
}
