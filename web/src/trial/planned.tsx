import { Facts, Note } from "../ui/field";
import type { Plan, PlanStop } from "./types";
import { minutes, named, signed } from "./words";

// Planned shows a plan: what it takes, why this order, every stop with what
// the model expects there.
export function Planned({ plan, coarser }: { plan: Plan; coarser?: () => void }) {
  return (
    <section class="card" aria-label="The plan">
      <h2>The plan</h2>
      <p class="sum">
        <span><strong class="big num">{plan.stops.length}</strong> stops</span>
        <span><strong class="big num">{plan.arrows}</strong> arrows</span>
        <span>about <strong class="big num">{minutes(plan.minutes).replace("about ", "")}</strong></span>
      </p>
      <Facts rows={[
        ["the maker's range", <>{plan.low.text} to {plan.high.text} <span class="doubt">as this riser's square reads it</span></>],
        ["this string reaches", `${plan.span_low.text} to ${plan.span_high.text}`],
        ["brace height now", plan.now.text],
      ]} />
      {plan.beyond.map((b) => <Note key={b}>Beyond this string: {b}.</Note>)}
      <Warnings plan={plan} coarser={coarser} />
      <p class="why">{plan.start_reason} {plan.order_reason}</p>
      <StopTable stops={plan.stops} />
      <p class="doubt">Spans of the brace height hold 95 %, those of the model 90 % of the plausible bows. The model has not been fitted to this bow's shots: trust the differences more than the values.</p>
      <Cautions list={plan.cautions} />
      {plan.notes.length > 0 && (
        <details>
          <summary>What was assumed</summary>
          <ul>{plan.notes.map((n) => <li key={n}>{n}</li>)}</ul>
        </details>
      )}
    </section>
  );
}

// Warnings are shown once each; the stops that may leave the range are named
// in one line, since the table marks every one of them.
function Warnings({ plan, coarser }: { plan: Plan; coarser?: () => void }) {
  const outside = plan.stops.filter((s) => s.in_range !== "yes").map((s) => s.number);
  const alike = lookAlike(plan.stops);
  const rest = plan.warnings.filter((w) => !/^Stop \d+ /.test(w));
  if (rest.length + outside.length + alike.length === 0) return null;
  return (
    <Note kind="warn">
      <ul>
        {rest.map((w) => <li key={w}>{w}</li>)}
        {outside.length > 0 && <li>{outside.length === 1 ? `Stop ${outside[0]} is or may be` : `Stops ${runs(outside)} are or may be`} outside the limb maker's range: measure there before you shoot.</li>}
        {alike.length > 0 && <li>Stops {runs(alike)} differ by less than a square shows: the string has few turns left there, and taking out more hardly moves the brace height. Finish before them, or raise the turns per step.</li>}
      </ul>
      {coarser && plan.stops.length > many && <button type="button" onClick={coarser}>Plan it with fewer stops</button>}
    </Note>
  );
}

// many stops are more than an evening holds (common practice, no source).
export const many = 12;

// lookAlike are the stops that a square cannot tell from their neighbour: a
// square is read to half a millimetre (common practice, no source).
function lookAlike(stops: PlanStop[]): number[] {
  const out = new Set<number>();
  stops.slice(1).forEach((s, i) => {
    const before = stops[i]!;
    if (s.number === before.number || Math.abs((s.brace_height.si ?? 0) - (before.brace_height.si ?? 0)) >= 0.0005) return;
    out.add(s.number).add(before.number);
  });
  return [...out];
}

// runs writes 3, 4, 5, 9 as "3–5, 9".
function runs(list: number[]): string {
  const out: [number, number][] = [];
  for (const n of [...new Set(list)].sort((a, b) => a - b)) {
    const last = out.at(-1);
    if (last && n === last[1] + 1) last[1] = n;
    else out.push([n, n]);
  }
  return out.map(([a, b]) => (a === b ? `${a}` : `${a}–${b}`)).join(", ");
}

export function Cautions({ list }: { list: string[] }) {
  if (list.length === 0) return null;
  return (
    <Note kind="warn">
      <strong>Take care</strong>
      <ul>{list.map((c) => <li key={c}>{c}</li>)}</ul>
    </Note>
  );
}

function StopTable({ stops }: { stops: PlanStop[] }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Stops of the plan">
      <table class="stops">
        <thead>
          <tr>
            <th scope="col">stop</th><th scope="col">turns</th><th scope="col">brace height expected</th><th scope="col">speed against now</th>
            <th scope="col">energy left in limbs and string</th><th scope="col">inside the range?</th>
          </tr>
        </thead>
        <tbody>
          {stops.map((s) => (
            <tr key={s.position} class={s.in_range === "yes" ? "" : "edge"}>
              <th scope="row" class="num" data-label="stop">{s.number}</th>
              <td class="num" data-label="turns"><strong>{signed(s.turns_from_previous)}</strong></td>
              <td data-label="expected"><Value d={s.brace_height} /></td>
              <td data-label="speed"><Value d={named(s.changes, "speed")} /></td>
              <td data-label="energy left"><Value d={named(s.predicted, "residual_energy")} /></td>
              <td data-label="in range?">{s.in_range}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

// Value is a number over its doubt.
export function Value({ d }: { d?: { text: string; doubt: string } }) {
  if (!d) return <span class="faint">none to give</span>;
  return <><span class="num">{d.text}</span><br /><span class="doubt num">{d.doubt}</span></>;
}
