import type { Comparison, Ranged } from "./types";

// Answered is one possible answer: its key, a mark, and the words.
export type Answered = [key: string, mark: string, words: string];

// Answers shows the possible answers side by side, all of one size, the true
// one framed and ticked: "cannot tell yet" is as visible as any other. Shape
// and words say everything; no colour does. Those over a scale stand as it does.
export function Answers({ list, here, scale = false }: { list: Answered[]; here: string; scale?: boolean }) {
  return (
    <ul class={scale ? "answers over-scale" : "answers"} aria-label="The possible answers">
      {list.map(([key, mark, words]) => (
        <li key={key} class={key === here ? "here" : ""} aria-current={key === here ? "true" : undefined}>
          <span class="mark" aria-hidden="true">{key === here ? "✓ " : ""}{mark}</span>
          <span>{words}</span>
        </li>
      ))}
    </ul>
  );
}

// VerdictPicture is the answer to "which is tighter", with the ratio of the
// spreads and its interval against the line of no difference.
export function VerdictPicture({ c, a = "A", b = "B" }: { c: Pick<Comparison, "verdict" | "sigma_ratio">; a?: string; b?: string }) {
  return (
    <>
      <Answers scale here={c.verdict} list={[["A tighter", "A", `${a} is tighter`], ["cannot tell yet", "?", "cannot tell yet"], ["B tighter", "B", `${b} is tighter`]]} />
      <Scale ratio={c.sigma_ratio} />
    </>
  );
}

const wide = 360, high = 168, axis = 96;

// Scale is the ratio A over B on a doubling scale, with its interval.
function Scale({ ratio }: { ratio: Ranged }) {
  const { value, low, high: up } = ratio;
  if (value === null) return null;
  const reach = Math.min(16, Math.max(2, up ?? 16, 1 / (low && low > 0 ? low : 1 / 16)));
  const at = (r: number) => wide / 2 + (Math.log(Math.min(reach, Math.max(1 / reach, r))) / Math.log(reach)) * (wide / 2 - 28);
  const from = at(low ?? 0), to = at(up ?? Infinity);
  const ticks = [1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 8].filter((t) => t <= reach * 1.01 && t >= 0.99 / reach);
  const text = (t: number) => (t === 1 ? "equal" : t < 1 ? `1/${Math.round(1 / t)}` : `${t}×`);
  return (
    <svg class="scale" viewBox={`0 0 ${wide} ${high}`} role="img" aria-label={says(ratio)}>
      <rect x="0" y="26" width={wide / 2} height={axis - 26} fill="var(--card)" stroke="var(--rule)" />
      <rect x={wide / 2} y="26" width={wide / 2} height={axis - 26} fill="var(--card)" stroke="var(--rule)" />
      <text x="8" y="18">◀ A tighter</text>
      <text x={wide - 8} y="18" text-anchor="end">B tighter ▶</text>
      <line x1={wide / 2} x2={wide / 2} y1="22" y2={axis + 8} stroke="var(--ink)" stroke-width="3" stroke-dasharray="8 5" />
      <line x1={from} x2={to} y1="60" y2="60" stroke="var(--ink)" stroke-width="8" />
      {[low === null ? null : from, up === null ? null : to].map((x) => x !== null && <line key={x} x1={x} x2={x} y1="46" y2="74" stroke="var(--ink)" stroke-width="4" />)}
      <circle cx={at(value)} cy="60" r="11" fill="var(--card)" stroke="var(--ink)" stroke-width="5" />
      {ticks.map((t) => <g key={t}><line x1={at(t)} x2={at(t)} y1={axis} y2={axis + 8} stroke="var(--ink)" stroke-width="2" /><text x={at(t)} y={axis + 25} text-anchor="middle">{text(t)}</text></g>)}
      <text x={wide / 2} y={high - 24} text-anchor="middle">spread of A over spread of B,</text>
      <text x={wide / 2} y={high - 5} text-anchor="middle">with its 95 % interval</text>
    </svg>
  );
}

function says({ value, low, high: up }: Ranged): string {
  const crosses = (low ?? 0) <= 1 && (up ?? Infinity) >= 1;
  return `Spread of A over spread of B: ${value?.toFixed(2)}, from ${low?.toFixed(2) ?? "no lower limit"} to ${up?.toFixed(2) ?? "no upper limit"}. The interval ${crosses ? "crosses" : "stays clear of"} the line of no difference.`;
}
