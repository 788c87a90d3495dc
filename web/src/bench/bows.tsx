import { useState } from "preact/hooks";
import { useAlong } from "../lib/along";
import { useMe } from "../lib/me";
import type { BowView } from "../lib/types";
import { byArcher, found, useTheirs, type Group } from "../lib/whose";
import { Find, manyBows, unfolded } from "../ui/find";
import { BowCard } from "./card";
import { nextPage } from "./next";

const few = 12; // bows that stand as cards; more are lines

let words = ""; // what was looked for last; it outlives the page, so that the way back leads to the same list

// Bows are the bench's bows by archer, with a field to find one among many.
export function Bows({ bows, old }: { bows: BowView[]; old: boolean }) {
  const me = useMe().me?.person.id;
  const [asked, ask] = useState(bows.length >= manyBows ? words : "");
  const missing = new Set(useAlong(old ? bows : undefined)?.missing.map((v) => v.bow.id));
  const shown = found(bows, asked), groups = byArcher(shown, me), named = byArcher(bows, me).length > 1;
  return (
    <>
      {bows.length >= manyBows && <Find value={asked} onInput={(v) => { words = v; ask(v); }} shown={shown.length} of={bows.length} />}
      {!named && <Some bows={shown} lines={shown.length > few} missing={missing} />}
      {named && groups.map((g) => shown.length > unfolded
        ? <Folded key={g.key} of={g} missing={missing} />
        : <section key={g.key} class="archer"><h2>{titled(g)}</h2><Some bows={g.bows} lines={shown.length > few} below missing={missing} /></section>)}
    </>
  );
}

const titled = (g: Group): string => g.name || "Mine";

// Folded is one archer of very many: what is folded is not drawn.
function Folded({ of, missing }: { of: Group; missing: Set<string> }) {
  const [open, set] = useState(false);
  const trials = of.bows.filter((v) => v.open_trial).length;
  return (
    <details class="archer" onToggle={(e) => set(e.currentTarget.open)}>
      <summary><span>{titled(of)} <span class="faint small">{of.bows.length === 1 ? "1 bow" : `${of.bows.length} bows`}{trials > 0 && `, ${trials === 1 ? "an open trial" : `${trials} open trials`}`}</span></span></summary>
      {open && <Some bows={of.bows} lines below missing={missing} />}
    </details>
  );
}

function Some({ bows, lines, below, missing }: { bows: BowView[]; lines: boolean; below?: boolean; missing: Set<string> }) {
  if (!lines) return <div class="cards">{bows.map((v) => <BowCard key={v.bow.id} of={v} below={below} away={missing.has(v.bow.id)} />)}</div>;
  return <ul class="lines bow-lines">{bows.map((v) => <BowLine key={v.bow.id} of={v} away={missing.has(v.bow.id)} />)}</ul>;
}

// BowLine is one bow among many: where it stands, and the next thing to do.
function BowLine({ of, away }: { of: BowView; away: boolean }) {
  const next = nextPage(of), archer = useTheirs()(of);
  return (
    <li>
      <div>
        <a href={`/bows/${of.bow.id}`}><strong>{of.bow.name}</strong></a>
        {archer && <span class="whose"> {archer}</span>}
        {of.bow.archived && <span class="tag">put away</span>}{of.demo && <span class="tag">invented</span>}{away && <span class="tag">not on this device</span>}
        <p class="small faint">{of.fork ? "Two changes of one set-up: say which is right." : of.open_trial ? `Open trial: ${of.open_trial.what}.` : of.brace.text}</p>
      </div>
      <a class="button" href={next.href} aria-label={`${next.label}: ${of.bow.name}${archer && `, ${archer}`}`}>{next.label}</a>
    </li>
  );
}
