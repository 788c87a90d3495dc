import { capital } from "../lib/words";
import type { Effect } from "./types";

// Effects is what a change moves, in words with its span.
export function Effects({ list, label }: { list: Effect[]; label: string }) {
  const rows = list.filter((e) => e.says !== "no change" && e.says !== "no change to speak of");
  if (rows.length === 0) return <p class="faint">Nothing that anyone would read off.</p>;
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={label}>
      <table>
        <thead><tr><th scope="col">what moves</th><th scope="col">by</th><th scope="col">span of 90 %</th></tr></thead>
        <tbody>{rows.map((e) => <tr key={e.change.label}><td>{capital(e.change.label)}</td><td class="num">{e.says}</td><td class="num">{e.change.doubt}</td></tr>)}</tbody>
      </table>
    </div>
  );
}
