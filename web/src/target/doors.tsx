import type { Problem } from "../lib/http";
import { told } from "../lib/http";
import type { Query } from "../lib/query";

// The ways between the pages of one bow that look at the target, and what
// stands on them while something is missing.

const pages = [["target", "Target"], ["heights", "High or low"], ["forgiveness", "Forgiveness"], ["marks", "Sight marks"], ["shafts", "Shafts to try"]] as const;
export type Door = (typeof pages)[number][0];

export function BowDoors({ bow, here, moves }: { bow: string; here: Door; moves?: Query }) {
  const change = moves && changeOf(bow, moves);
  return (
    <nav class="row actions below" aria-label="More about this bow">
      {change && <a class="button" href={change}>Make it a change</a>}
      {pages.filter(([to]) => to !== here).map(([to, name]) => <a key={to} class="button" href={`/bows/${bow}/${to}`}>{name}</a>)}
    </nav>
  );
}

// changeOf leads to the form of the next set-up, for what can be undone again.
const keep: Record<string, [pick: string, at: string]> = { brace_height: ["brace", "/brace_height/value"], centre_shot: ["centre", "/centre_shot"] };

function changeOf(bow: string, moves: Query): string | undefined {
  const kept = Object.entries(moves).filter(([name]) => keep[name]);
  if (kept.length === 0) return undefined;
  const query = new URLSearchParams();
  for (const [name, text] of kept) {
    query.append("pick", keep[name]![0]);
    query.append(keep[name]![1], text);
  }
  return `/bows/${bow}/change?${query}`;
}

export function NeedsSetUp({ bow, what }: { bow: string; what: string }) {
  return (
    <div class="card">
      <p>{what}</p>
      <a class="button main" href={`/bows/${bow}/change`}>Enter the settings</a>
    </div>
  );
}

export function NeedsArrow({ bow, problem }: { bow: string; problem: Problem }) {
  return (
    <div class="card">
      <p>The target stands here once the arrow is known: its mass and its static spine, the number printed on the shaft; length and point mass make it surer.</p>
      <p class="faint">{told(problem)}</p>
      <a class="button main" href={`/bows/${bow}/change?pick=arrow`}>Enter the arrow</a>
    </div>
  );
}
