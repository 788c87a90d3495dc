import { useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { useBusy } from "../lib/busy";
import { api } from "../lib/http";
import { record } from "../lib/outbox";
import { asProblem, useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { capital, when } from "../lib/words";
import { Field, Note, Pick } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { useStandings } from "./cards";
import { StateTag, WorkGraph, WorkList } from "./graph";
import { Computing } from "./poll";
import type { Cause, Standing, Standings } from "./types";

// StandingPage answers "does the old result still count?" for every result of
// a bow.
export function StandingPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Standing of ${bow.value.bow.name}`);
  useBow(bow.value);
  return <Answer of={bow} what="Opening the bow…" title="Does the old result still count?">{(v) => <Page view={v} />}</Answer>;
}

function Page({ view }: { view: BowView }) {
  const [show, setShow] = useState<Show>("now");
  const of = useStandings(view.bow.id, show === "all");
  return (
    <>
      <p class="crumb"><a href={`/bows/${view.bow.id}`}>{view.bow.name}</a></p>
      <h1>Does the old result still count?</h1>
      <p class="lead">Each result against everything that was changed since: how far the model says it moved, beside how well it was known.</p>
      <Answer of={of} what="Looking at what was changed since…">
        {(v) => (v.state === "computing" ? <Computing of={v} what="Computing what each change moved…" /> : <All of={v} again={of.again} show={show} onShow={setShow} />)}
      </Answer>
    </>
  );
}

type Show = "now" | "all";

function All({ of, again, show, onShow }: { of: Standings; again: () => void; show: Show; onShow: (s: Show) => void }) {
  return (
    <div class="two wide-left">
      <div>
        {of.standings.length === 0 && <Note>Nothing was found out on this bow yet: no verdict, no reading outside a trial, no end with places.</Note>}
        {of.standings.length > 0 && <Pick label="Which results" value={show} options={[["now", "The latest of each"], ["all", "All, with those since taken anew"]]} onInput={onShow} />}
        {of.basis && of.standings.length > 0 && <p class="doubt">{of.basis}</p>}
        {of.standings.map((s) => <Result key={s.id + s.quantity + s.label} of={s} again={again} />)}
      </div>
      <div>
        {of.work && (
          <section class="card">
            <h2>Where the work stands</h2>
            <p><strong>{of.work.next}</strong></p>
            <WorkGraph work={of.work} />
            <WorkList work={of.work} />
          </section>
        )}
        <section class="card">
          <h2>What the words mean</h2>
          <p><StateTag state="fresh" /> What was changed since moved it by less than it was known to, even at the far end of the doubt.</p>
          <p><StateTag state="drifted" /> It may have moved by more. One check reading settles it.</p>
          <p><StateTag state="stale" /> On most bows like yours it moved by more. Take it again.</p>
          <p class="doubt">Changes are added up, never set off against each other: two that cancel are a forecast, not the old result. Floors allow for what the model lacks.</p>
        </section>
      </div>
    </div>
  );
}

function Result({ of: s, again }: { of: Standing; again: () => void }) {
  return (
    <section class={`card result ${s.state}`} aria-label={`${s.label}: ${s.state}`}>
      <h2>{capital(s.label)} <StateTag state={s.state} /></h2>
      <p class="faint small">{when(s.at)}{s.superseded_by ? " · taken anew since" : ""}</p>
      <p class="num"><span class="big">{s.value}</span> <span class="doubt">{s.own}, {s.own_from}</span></p>
      <p>{s.sentence}</p>
      {s.now_set_to && <Note kind="warn">The bow is no longer set to it: now {s.now_set_to}.</Note>}
      {s.moved && <p class="num">Predicted move since: <strong>{s.moved}</strong>. <span class="doubt">Half of the plausible bows moved more than {s.likely}{s.at_most ? `, nearly all less than ${s.at_most}` : ""}.</span></p>}
      {s.causes.length > 0 && <Causes list={s.causes} label={s.label} />}
      <Rule of={s} again={again} />
    </section>
  );
}

function Causes({ list, label }: { list: Cause[]; label: string }) {
  return (
    <details>
      <summary>What was changed, and what it did</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label={`What moved: ${label}`}>
        <table>
          <thead><tr><th scope="col">entry</th><th scope="col">from … to</th><th scope="col">moved it by</th><th scope="col">allowed for what the model lacks</th></tr></thead>
          <tbody>
            {list.map((c) => (
              <tr key={c.entry}>
                <td>{c.label}</td>
                <td>{c.put_back ? "moved and put back" : `${c.before} → ${c.after}`}</td>
                <td>{c.moved ?? (c.unknown ? "nobody can say" : "nothing by the model")}</td>
                <td>{c.unknown ? "no bound known" : (c.floor ?? "none")}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}

// Rule lets a person overrule the computed state, with a reason.
function Rule({ of: s, again }: { of: Standing; again: () => void }) {
  const [counts, setCounts] = useState<"yes" | "no">(s.state === "fresh" ? "no" : "yes");
  const [reason, setReason] = useState("");
  const [tried, setTried] = useState(false);
  const [problem, setProblem] = useState<ReturnType<typeof asProblem>>();
  const { busy, run } = useBusy();
  const send = () => run(async () => {
    setTried(true);
    setProblem(undefined);
    if (reason.trim() === "") return;
    try {
      await record(`${api}/rulings/${uuidv7()}`, { target: s.id, counts: counts === "yes", reason: reason.trim() });
      setReason((now) => (now === reason ? "" : now)); // what was typed since stays
      setTried(false);
      again();
    } catch (e) {
      setProblem(asProblem(e));
    }
  });
  return (
    <details>
      <summary>I know better</summary>
      {s.ruling && <p>Your ruling of {when(s.ruling.at)}: {s.ruling.counts ? "it still counts" : "it no longer counts"}, because {s.ruling.reason}. Computed: {s.computed}.</p>}
      <form noValidate onSubmit={(e) => { e.preventDefault(); void send(); }}>
        <Pick label={`Does the ${s.label} still count?`} value={counts} options={[["yes", "It still counts"], ["no", "It no longer counts"]]} onInput={setCounts} />
        <Field label="Why" name={`reason-${s.id}-${s.quantity}`} required value={reason} onInput={setReason} placeholder="like: three bare shafts, still in the group" error={tried && reason.trim() === "" ? "A ruling needs a reason. A few words are enough." : undefined} />
        {problem && <Wrong problem={problem} />}
        <button type="submit">{busy ? "Noting…" : "Rule so"}</button>
      </form>
    </details>
  );
}
