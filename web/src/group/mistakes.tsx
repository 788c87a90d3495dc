import { sentence, type Problem } from "../lib/http";
import { Note } from "../ui/field";

// WithMistakes shows a table's mistakes beside the lines they stand on, with
// the lines around them, so that each can be mended where it is.
export function WithMistakes({ text, problem }: { text: string; problem: Problem }) {
  const lines = text.split(/\r\n|\n|\r/);
  const at = new Map<number, string[]>();
  const rest: string[] = [];
  for (const f of problem.fields) {
    const line = Number(/line (\d+)/.exec(f.field)?.[1] ?? 0), column = /line \d+, (.+)$/.exec(f.field)?.[1];
    const said = (column ? `${column}: ` : "") + sentence(f);
    if (line > 0 && line <= lines.length + 1) at.set(line, [...(at.get(line) ?? []), said]);
    else rest.push(said);
  }
  return (
    <>
      <Note kind="bad">
        <p><strong>Nothing of this table was taken: {at.size + rest.length === 1 ? "one line needs" : "some lines need"} mending.</strong> The text above is kept as it is.</p>
        {rest.length > 0 && <ul>{rest.map((r) => <li key={r}>{r}</li>)}</ul>}
      </Note>
      <div class="csv-lines" tabIndex={0} role="region" aria-label="The lines with mistakes">
        <ol>
          {around([...at.keys()], lines.length).map((n) => (
            <li key={n} class={at.has(n) ? "bad" : ""}><span class="n">{n}</span>{short(lines[n - 1] ?? "")}{at.get(n)?.map((w) => <span class="why" key={w}>{w}</span>)}</li>
          ))}
        </ol>
      </div>
    </>
  );
}

// around are the lines to show: each mistake with one line before and after,
// and the header.
function around(bad: number[], total: number): number[] {
  const out = new Set<number>([1]);
  for (const n of bad) for (const k of [n - 1, n, n + 1]) if (k >= 1 && (k <= total || k === n)) out.add(k);
  return [...out].sort((a, b) => a - b);
}

const short = (line: string): string => (line.length > 160 ? `${line.slice(0, 160)}…` : line);
