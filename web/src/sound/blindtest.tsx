import { useState } from "preact/hooks";
import { keepDraft, readDraft } from "../lib/draft";
import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { Note } from "../ui/field";
import { dice, keptAs, makeRounds, rounds, scoreOf, type Answer, type Kept, type Round } from "./blind";
import { Play } from "./play";

// BlindTest plays pairs without saying which is which, half of them the same
// setting twice.
export function BlindTest({ pair }: { pair: (first: "a" | "b", second: "a" | "b") => string }) {
  const [list, setList] = useState<Round[]>();
  const at = list?.findIndex((r) => !r.answer) ?? -1;
  const answer = (a: Answer) => {
    const next = list!.map((r, i) => (i === at ? { ...r, answer: a } : r));
    setList(next);
    if (at === rounds - 1) keep(next);
  };
  if (!list) {
    return (
      <p class="row">
        <button type="button" class="quiet" onClick={() => setList(makeRounds(dice))}>Test your ears blind</button>
        <span class="doubt">{rounds} pairs, half of them the same setting twice: how often one of two equals is preferred is printed beside every feel.</span>
      </p>
    );
  }
  if (at < 0) return <Result list={list} again={() => setList(makeRounds(dice))} />;
  const now = list[at]!;
  return (
    <div class="card" role="group" aria-label="Blind test">
      <h3>Pair {at + 1} of {rounds}</h3>
      <p><Play key={at} src={pair(now.first, now.second)} label="Play the pair" /></p>
      <p>Which was sweeter?</p>
      <div class="taps">
        <button type="button" onClick={() => answer("first")}>The first</button>
        <button type="button" onClick={() => answer("none")}>No difference</button>
        <button type="button" onClick={() => answer("second")}>The second</button>
      </div>
    </div>
  );
}

function keep(list: Round[]): void {
  const s = scoreOf(list), old = readDraft<Kept>(keptAs);
  keepDraft(keptAs, { equal: s.equal + (old?.equal ?? 0), falsely: s.falsely + (old?.falsely ?? 0), at: new Date().toISOString() });
}

function Result({ list, again }: { list: Round[]; again: () => void }) {
  const s = scoreOf(list), comma = useComma();
  const sure = s.p !== null && s.p <= 0.05;
  return (
    <Note>
      <p><strong>{sure ? `You prefer ${s.forA > s.forB ? "A" : "B"}.` : "Your ears cannot tell yet."}</strong> Between the two settings: A in {s.forA}, B in {s.forB}, no difference in {s.different - s.forA - s.forB} of {s.different} pairs{s.p !== null && ` (p ${number(s.p, 2, comma)} against a fair coin)`}.</p>
      <p>Between equals you preferred one in {s.falsely} of {s.equal} pairs.{s.falsely > s.equal / 3 && " That is often: take a preference between settings with care."}</p>
      <button type="button" class="quiet" onClick={again}>Once more</button>
    </Note>
  );
}
