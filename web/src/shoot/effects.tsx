import { capital } from "../lib/words";
import type { Effect } from "./api";

// Effects lists every size with its interval, drawn against the line of
// nothing. What crosses the line cannot be told; a mark says so, not a colour.
export function Effects({ list }: { list: Effect[] }) {
  if (list.length === 0) return null;
  return (
    <ul class="effects">
      {list.map((e) => (
        <li key={e.name + e.label}>
          <span class="what"><span>{mark(e)} {capital(e.label)}</span><strong class="num">{e.text}</strong></span>
          <Bar of={e} reach={reachOf(list, e)} />
        </li>
      ))}
    </ul>
  );
}

// nothing is the value of no effect: a ratio's is 1.
const nothing = (e: Effect): number | null => (e.name.endsWith("ratio") ? 1 : e.unit === "" || e.name === "sigma" || e.name.endsWith("preference") ? null : 0);

function mark(e: Effect): string {
  const none = nothing(e);
  if (none === null || e.value === null) return "";
  if (e.low === null || e.high === null) return ""; // a description, without an interval
  return e.low <= none && e.high >= none ? "?" : "✓";
}

// reachOf is the largest distance from nothing among the effects that share a
// unit, so that their bars can be compared.
function reachOf(list: Effect[], of: Effect): number {
  const far = list.filter((e) => e.unit === of.unit && nothing(e) === nothing(of)).flatMap((e) => [e.value, e.low, e.high]).filter((v): v is number => v !== null).map((v) => Math.abs(v - (nothing(of) ?? 0)));
  return Math.max(1e-12, ...far);
}

function Bar({ of: e, reach }: { of: Effect; reach: number }) {
  const none = nothing(e);
  if (none === null || e.value === null) return null;
  const at = (v: number) => 200 + (180 * (v - none)) / reach;
  const from = e.low === null ? 0 : at(e.low), to = e.high === null ? 400 : at(e.high);
  return (
    <svg viewBox="0 0 400 34" preserveAspectRatio="none" aria-hidden="true">
      <line x1="200" x2="200" y1="0" y2="34" stroke="var(--ink)" stroke-width="2" stroke-dasharray="5 4" vector-effect="non-scaling-stroke" />
      {(e.low !== null || e.high !== null) && <line x1={from} x2={to} y1="17" y2="17" stroke="var(--ink)" stroke-width="5" vector-effect="non-scaling-stroke" />}
      <line x1={at(e.value)} x2={at(e.value)} y1="5" y2="29" stroke="var(--ink)" stroke-width="5" vector-effect="non-scaling-stroke" />
    </svg>
  );
}
