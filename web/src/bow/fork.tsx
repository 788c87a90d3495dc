import { useEffect, useState } from "preact/hooks";
import { api, get, type Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { record, waiting } from "../lib/outbox";
import { takeBack } from "../lib/takeback";
import type { BowView, Fork, ForkSide, SetUp, SetUpView, Tree } from "../lib/types";
import { offerUndo } from "../lib/undo";
import { uuidv7 } from "../lib/uuid";
import { when } from "../lib/words";
import { Wrong } from "../ui/states";
import { Changes } from "./history";

// ForkCard asks which is right where two people, or a phone and a laptop,
// changed the same set-up meanwhile. Both are kept, no clock decides, one tap
// chooses, and another takes the choice back: at once at the foot of the page,
// later in the history.
export function ForkCard({ view, changed }: { view: BowView; changed: () => void }) {
  const [chosen, setChosen] = useState<string>();
  const [busy, setBusy] = useState(false);
  const [problem, setProblem] = useState<Problem>();
  useEffect(() => { if (!view.fork) setChosen(undefined); }, [view.fork]); // the notebook knows; another one may come
  const run = async (work: () => Promise<void>) => {
    setBusy(true);
    setProblem(undefined);
    await work().then(changed, (e: unknown) => setProblem(asProblem(e)));
    setBusy(false);
  };
  const choose = (side: ForkSide, settings?: Tree) => run(async () => {
    const id = uuidv7(), { sides } = view.fork!;
    const whole = settings ?? (await get<SetUpView>(`${api}/setups/${side.setup}`)).setup.settings;
    const reason = settings ? `Both changes together: ${sides.map((s) => s.reason).filter(Boolean).join("; ")}` : `Of ${sides.length} changes this one: ${side.reason || "no reason noted"}`;
    await record(`${api}/setups/${id}`, { bow: view.bow.id, parent: side.setup, settles: sides.filter((s) => s !== side).map((s) => s.setup), reason, settings: whole });
    setChosen(id);
    const undo = async () => { await takeBack(`${api}/setups/${id}`, "chosen by mistake: to be asked again"); setChosen(undefined); changed(); };
    offerUndo({ said: "Chosen; the other changes stay in the history.", undo, undone: "You are asked again." });
  });
  return (
    <>
      {problem && <Wrong problem={problem} />}
      {view.fork && !chosen && !settledHere(view.bow.id) && <Question fork={view.fork} busy={busy} choose={choose} />}
    </>
  );
}

// settledHere tells that a choice waits on this device.
const settledHere = (bow: string): boolean => waiting().some((w) => w.path.startsWith(`${api}/setups/`) && (w.body as SetUp).bow === bow && ((w.body as SetUp).settles?.length ?? 0) > 0);

interface Asks { fork: Fork; busy: boolean; choose: (side: ForkSide, settings?: Tree) => Promise<void> }

function Question({ fork, busy, choose }: Asks) {
  const last = fork.sides.at(-1)!, names = nameOf(fork);
  return (
    <section class="card fork" aria-label="Two changes of one set-up">
      <h2>{fork.ask}</h2>
      <p>Nothing is lost: all are kept, whichever you choose. Until then the one that reached the notebook last is taken for the bow's set-up.</p>
      <div class="two">
        {fork.sides.map((s) => (
          <section class="card" key={s.setup} aria-label={`The change by ${names(s)}`}>
            <h3>{names(s)}</h3>
            <p class="small">Written {when(s.at)} by their clock, reached the notebook {when(s.received)}.{s.reason && ` “${s.reason}”`}</p>
            {s.changes.length > 0 ? <Changes of={s.changes} /> : <p class="faint">Nothing differs from where all began.</p>}
            <button type="button" class="main" disabled={busy} onClick={() => void choose(s)}>The bow is like this</button>
          </section>
        ))}
      </div>
      {fork.clashes.length > 0 && <Clashes fork={fork} names={names} />}
      {fork.merged && <button type="button" disabled={busy} onClick={() => void choose(last, fork.merged)}>{fork.clashes.length === 0 ? "It has both changes" : `It has all of them; where they differ, as ${names(last)} has it`}</button>}
    </section>
  );
}

// Clashes are the entries that sides set to different values, side by side.
function Clashes({ fork, names }: { fork: Fork; names: (s: ForkSide) => string }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Where they differ">
      <table>
        <caption>Where they differ</caption>
        <thead><tr><th scope="col">entry</th>{fork.sides.map((s) => <th scope="col" key={s.setup}>{names(s)}</th>)}</tr></thead>
        <tbody>{fork.clashes.map((c) => <tr key={c.key}><th scope="row">{c.label}</th>{c.texts.map((t, i) => <td class="num" key={i}>{t || "not noted"}</td>)}</tr>)}</tbody>
      </table>
    </div>
  );
}

// nameOf tells sides apart: by who wrote them, or by when where one person did
// on two devices.
function nameOf(fork: Fork): (s: ForkSide) => string {
  const several = new Set(fork.sides.map((s) => s.by)).size === fork.sides.length;
  return (s) => (several ? s.by_name || "someone else" : `${s.by_name || "The same person"}, ${when(s.at)}`);
}
