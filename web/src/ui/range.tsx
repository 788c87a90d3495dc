import type { Brace } from "../lib/types";

// RangeBar draws where the brace height stands in the limb maker's range, and
// says the same in words. It needs a range; without one only the words stand.
export function RangeBar({ brace, words = true }: { brace: Brace; words?: boolean }) {
  const { low, high, pivot } = brace;
  return (
    <div class={`brace ${brace.state}`}>
      {low && high && <Drawn low={low.si} high={high.si} at={pivot?.si} text={brace.text} />}
      {low && high && <div class="range-ends num" aria-hidden="true"><span>{low.text}</span><span>{high.text}</span></div>}
      {words && <p class="brace-words"><Sign state={brace.state} />{brace.text}{brace.measured ? " As last measured." : ""}</p>}
    </div>
  );
}

// Sign says by its shape, not only by its colour, whether all is well.
function Sign({ state }: { state: Brace["state"] }) {
  const mark = state === "inside" ? "✓" : state === "below" || state === "above" ? "!" : "?";
  return <span class={`sign ${state}`} aria-hidden="true">{mark}</span>;
}

function Drawn({ low, high, at, text }: { low: number; high: number; at?: number; text: string }) {
  // The range takes the middle of the bar; a reading far outside widens it.
  const pad = (high - low) * 0.35;
  const from = Math.min(low - pad, at ?? low) , to = Math.max(high + pad, at ?? high);
  const place = (v: number) => `${(100 * (v - from)) / (to - from)}%`;
  return (
    <div class="range" role="img" aria-label={text}>
      <span class="allowed" style={{ left: place(low), right: `${100 - parseFloat(place(high))}%` }} />
      {at !== undefined && <span class="at" style={{ left: place(at) }} />}
    </div>
  );
}
