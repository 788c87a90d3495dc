import { useState } from "preact/hooks";
import { Cautions } from "../bow/forecast";
import { api, post } from "../lib/http";
import { capital } from "../lib/words";
import { changeLink } from "../standing/link";
import { Computing, usePolled } from "../standing/poll";
import { Choice, Note, Quantity } from "../ui/field";
import { Answer } from "../ui/states";
import { Effects } from "./effects";
import type { Advice, Route } from "./types";

type Kind = "bare_to_group" | "faster" | "quieter";
const wishes: [Kind, string][] = [["bare_to_group", "the bare shaft in the group at 30 m"], ["faster", "2 m/s more"], ["quieter", "a quieter bow"]];

// Advise finds routes to a wish.
export function Advise({ id, units }: { id: string; units: string | null }) {
  const [wish, setWish] = useState<Kind>("bare_to_group");
  const [offset, setOffset] = useState("");
  const [asked, setAsked] = useState<object>();
  const body = asked && JSON.stringify(asked);
  const of = usePolled<Advice>(units && body ? `${id}|${units}|${body}` : null, (signal) => post<Advice>(`${api}/bows/${id}/advice`, asked!, signal));
  return (
    <section class="card">
      <h2>Find a way</h2>
      <form noValidate onSubmit={(e) => { e.preventDefault(); setAsked({ wish, offset_right: wish === "bare_to_group" && offset.trim() ? offset.trim() : undefined }); }}>
        <Choice label="I would like" value={wish} options={wishes} onInput={(w) => { setWish(w); setAsked(undefined); }} />
        {wish === "bare_to_group" && (
          <Quantity label="The bare shaft now lands right of the group by" name="offset" quantity="impact" value={offset} onInput={setOffset}
            help="Left is negative. Leave it empty if bare-shaft readings are noted on this bow." />
        )}
        <button type="submit">Find two or three routes</button>
      </form>
      {body && (
        <Answer of={of} what="Trying every setting…">
          {(a) => (a.state === "computing" ? <Computing of={a} what="Trying every setting inside the makers' limits…" /> : (
            <>
              {a.withheld && <Note>{a.withheld}</Note>}
              {a.routes.map((r, i) => <RouteCard key={r.label} id={id} of={r} place={i + 1} />)}
              {a.notes.map((n) => <p key={n} class="doubt">{n}</p>)}
              <Cautions lines={a.cautions} />
            </>
          ))}
        </Answer>
      )}
    </section>
  );
}

function RouteCard({ id, of: r, place }: { id: string; of: Route; place: number }) {
  return (
    <div class="route">
      <h3>{place}. {capital(r.label)}</h3>
      <ul class="plain">{r.changes.map((c) => <li key={c}>{capital(c)}</li>)}</ul>
      <p>Chance of meeting the wish: <strong>{r.say}</strong>. <span class="doubt">It moves {r.reached.label} by {r.reached.text} ({r.reached.doubt}).</span></p>
      {!r.reversible && <Note>Borrow before you buy or cut.</Note>}
      {r.warnings.map((w) => <Note key={w} kind="warn">{w}</Note>)}
      <details><summary>What else it moves</summary><Effects list={r.side_effects} label={`What else ${r.label} moves`} /></details>
      <a class="button" href={changeLink(id, Object.fromEntries(r.settings.map((s) => [s.key, s.value])))}>Make this change</a>
    </div>
  );
}
