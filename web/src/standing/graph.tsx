import { useId } from "preact/hooks";
import type { Step, StepState, Work } from "./types";

// The order of work as a picture: one box a step from top to bottom, lines
// along the order, arcs where a step also spoils a later one. The list below
// it says the same for a screen reader and for whoever would rather read.

const W = 360, boxLeft = 58, boxWidth = W - boxLeft - 8, boxHeight = 46, pitch = 62, top = 6;

export const stateWords: Record<StepState, string> = { fresh: "fresh", drifted: "drifted", stale: "stale", todo: "to do", noted: "entered" };
export const stateSigns: Record<StepState, string> = { fresh: "✓", drifted: "~", stale: "!", todo: "…", noted: "•" };

export function WorkGraph({ work }: { work: Work }) {
  const id = useId();
  const at = new Map(work.steps.map((s, i) => [s.key, i]));
  const height = top * 2 + pitch * (work.steps.length - 1) + boxHeight;
  return (
    <svg class="work-graph" viewBox={`0 0 ${W} ${height}`} role="img" aria-labelledby={id}>
      <title id={id}>{title(work)}</title>
      {work.steps.map((s, i) => s.after.map((key) => <Edge key={`${key}-${s.key}`} from={at.get(key)} to={i} stale={s.state === "stale" || s.state === "drifted"} />))}
      {work.steps.map((s, i) => <Box key={s.key} step={s} i={i} now={work.now === s.key} />)}
    </svg>
  );
}

const title = (work: Work) => `Order of work. ${work.steps.map((s) => `${s.label}: ${stateWords[s.state]}`).join("; ")}. ${work.next}`;

function Edge({ from, to, stale }: { from?: number; to: number; stale: boolean }) {
  if (from === undefined) return null;
  const y1 = top + from * pitch + boxHeight / 2, y2 = top + to * pitch + boxHeight / 2;
  const cls = stale ? "edge moved" : "edge";
  if (to - from === 1) {
    const x = boxLeft + 24;
    return <g class={cls}><line x1={x} x2={x} y1={y1 + boxHeight / 2} y2={y2 - boxHeight / 2 - 5} /><path d={`M${x - 5} ${y2 - boxHeight / 2 - 7} l5 7 l5 -7 z`} /></g>;
  }
  const reach = Math.min(50, 14 + 9 * (to - from));
  return <g class={cls}><path class="arc" d={`M${boxLeft} ${y1 + 8} C${boxLeft - reach} ${y1 + 8}, ${boxLeft - reach} ${y2 - 8}, ${boxLeft - 6} ${y2 - 8}`} /><path d={`M${boxLeft - 8} ${y2 - 13} l7 5 l-7 5 z`} /></g>;
}

function Box({ step, i, now }: { step: Step; i: number; now: boolean }) {
  const y = top + i * pitch;
  return (
    <g class={`step ${step.state} ${now ? "now" : ""}`}>
      <rect x={boxLeft} y={y} width={boxWidth} height={boxHeight} rx={8} />
      <circle cx={boxLeft + 24} cy={y + boxHeight / 2} r={13} />
      <text class="mark" x={boxLeft + 24} y={y + boxHeight / 2 + 6} text-anchor="middle">{stateSigns[step.state]}</text>
      <text class="name" x={boxLeft + 46} y={y + 20}>{step.label}</text>
      <text class="state" x={boxLeft + 46} y={y + 38}>{stateWords[step.state]}{now ? " – here now" : ""}</text>
    </g>
  );
}

// WorkList is the table behind the picture.
export function WorkList({ work }: { work: Work }) {
  const label = new Map(work.steps.map((s) => [s.key, s.label]));
  return (
    <details>
      <summary>The steps in words</summary>
      <ol class="work-list">
        {work.steps.map((s) => (
          <li key={s.key}>
            <strong>{s.label}</strong> <StateTag state={s.state} />
            <br />{s.text}{s.do && s.do !== s.text ? ` ${s.do}` : ""}
            {s.after.length > 0 && <span class="faint small"> Spoiled by a later move of: {s.after.map((k) => (label.get(k) ?? k).toLowerCase()).join(", ")}.</span>}
          </li>
        ))}
      </ol>
    </details>
  );
}

export function StateTag({ state }: { state: StepState }) {
  return <span class={`standing ${state}`}><span aria-hidden="true">{stateSigns[state]} </span>{stateWords[state]}</span>;
}
