import type { BowView, TrialBrief } from "../lib/types";
import { useTheirs } from "../lib/whose";
import { when } from "../lib/words";
import { RangeBar } from "../ui/range";
import { nextPage } from "./next";

// BowCard is one bow at a glance: where its brace height stands, what was last
// done, and one button for the next thing to do.
export function BowCard({ of, below, away }: { of: BowView; below?: boolean; away?: boolean }) {
  const next = nextPage(of), archer = useTheirs()(of), Head = below ? "h3" : "h2";
  return (
    <article class="card bow-card">
      <Head><a href={`/bows/${of.bow.id}`}>{of.bow.name}</a>{of.bow.archived && <span class="tag">put away</span>}{of.demo && <span class="tag">invented</span>}{away && <span class="tag">not on this device</span>}</Head>
      {archer && <p class="whose">{archer}</p>}
      <p class="faint small">{facts(of)}</p>
      <RangeBar brace={of.brace} />
      <p class="small">{lastDone(of)}</p>
      {of.fork && <p class="small"><a href={`/bows/${of.bow.id}`}>Two changes of one set-up: say which is right</a></p>}
      {of.open_trial && <p class="small"><strong>Open trial:</strong> {trialWords(of.open_trial)}</p>}
      <div class="next">
        <p>{of.next.text}</p>
        <a class="button" href={next.href}>{next.label}</a>
        {of.setup && <a class="button plot-link" href={`/bows/${of.bow.id}/plot`}>Plot an end</a>}
      </div>
    </article>
  );
}

function facts(v: BowView): string {
  const shown = v.setup?.shown ?? {};
  return [v.bow.style, shown["/limbs/bow_length"]?.text, shown["/draw/weight"] && `${shown["/draw/weight"].text} at ${shown["/draw/length"]?.text}`, shown["/arrow/mass"] && `arrow ${shown["/arrow/mass"].text}`]
    .filter(Boolean).join(", ");
}

function lastDone(v: BowView): string {
  if (v.last_session) return `Last session: ${when(v.last_session.at)}${v.last_session.place ? `, ${v.last_session.place}` : ""}.`;
  if (v.last_reading_at) return `Last measured: ${when(v.last_reading_at)}.`;
  return "No session yet.";
}

export function trialWords(t: TrialBrief): string {
  const begun = `${t.what}, begun ${when(t.at)}`;
  if (t.state === "finished" || t.state === "abandoned") return `${begun}, ${t.state}`;
  return t.stop === undefined ? `${begun}, ${t.stops} stops planned` : `${begun}, at stop ${t.stop + 1} of ${t.stops}`;
}
