import { Cautions } from "../bow/forecast";
import { useBow } from "../lib/bar";
import { api, get } from "../lib/http";
import { useGet } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import type { BowView } from "../lib/types";
import { Chart } from "../ui/chart";
import { Note } from "../ui/field";
import { Answer } from "../ui/states";
import { Computing, usePolled } from "./poll";
import type { Explanation, Topic } from "./types";

// ExplainPage says in plain words and pictures what brace height does on this
// bow.
export function ExplainPage({ id }: { id: string }) {
  const bow = useGet<BowView>(`/bows/${id}`);
  useTitle(bow.value && `Brace height on ${bow.value.bow.name}`);
  useBow(bow.value);
  return (
    <Answer of={bow} what="Opening the bow…" title="What brace height does on this bow">
      {(v) => (
        <>
          <p class="crumb"><a href={`/bows/${id}`}>{v.bow.name}</a></p>
          <h1>What brace height does on this bow</h1>
          {v.setup ? <Body setup={v.setup.setup.id} /> : <Note>This bow has no set-up yet. Enter its settings first.</Note>}
        </>
      )}
    </Answer>
  );
}

function Body({ setup }: { setup: string }) {
  const person = useMe().me?.person;
  const key = person ? `${setup}|${person.units}|${person.decimal_comma}|${person.hand}` : null;
  const of = usePolled<Explanation>(key, (signal) => get<Explanation>(`${api}/setups/${setup}/explanation`, signal));
  return (
    <Answer of={of} what="Shooting this bow at seven brace heights…">
      {(v) => (v.state === "computing" ? <Computing of={v} what="Shooting this bow at seven brace heights, then asking what it forgives…" /> : (
        <>
          <p class="row actions no-print">
            <a class="button" href={`/sheets/explain/${setup}`}>Sheet to print</a>
          </p>
          <div class="two">{v.topics.map((t) => <One key={t.key} of={t} />)}</div>
          <section class="card">
            <h2>How sure</h2>
            <ul class="plain">{v.notes.map((n) => <li key={n}>{n}</li>)}</ul>
            <Cautions lines={v.cautions} />
          </section>
        </>
      ))}
    </Answer>
  );
}

function One({ of: t }: { of: Topic }) {
  const comma = useComma();
  return (
    <section class="card">
      <h2>{t.title}</h2>
      <p>{t.why ?? t.text}</p>
      {t.figure && <Chart figure={t.figure} comma={comma} />}
    </section>
  );
}
