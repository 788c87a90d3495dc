import { Facts, Note } from "../ui/field";
import type { Plan, PlanStop } from "./types";
import { minutes, named, signed } from "./words";

// Planned shows a plan: what it takes, why this order, every stop with what
// the model expects there.
export function Planned({ plan }: { plan: Plan }) {
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
      <Warnings plan={plan} />
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
function Warnings({ plan }: { plan: Plan }) {
  const outside = plan.stops.filter((s) => s.in_range !== "yes").map((s) => s.number);
  const rest = plan.warnings.filter((w) => !/^Stop \d+ /.test(w));
  if (rest.length === 0 && outside.length === 0) return null;
  return (
    <Note kind="warn">
      <ul>
        {rest.map((w) => <li key={w}>{w}</li>)}
        {outside.length > 0 && <li>{outside.length === 1 ? `Stop ${outside[0]} is or may be` : `Stops ${runs(outside)} are or may be`} outside the limb maker's range: measure there before you shoot.</li>}
      </ul>
    </Note>
  );
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
              <td class="num">{s.number}</td>
              <td class="num"><strong>{signed(s.turns_from_previous)}</strong></td>
              <td><Value d={s.brace_height} /></td>
              <td><Value d={named(s.changes, "speed")} /></td>
              <td><Value d={named(s.predicted, "residual_energy")} /></td>
              <td>{s.in_range}</td>
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
