import { capital } from "../lib/words";
import { Note } from "../ui/field";
import { Cautions } from "../trial/planned";
import { minutes } from "../trial/words";
import type { ShootPlan } from "./types";

// Planned shows a plan: what it can tell, before anything is shot, what it
// takes, and every stop in its order.
export function Planned({ plan }: { plan: ShootPlan }) {
  return (
    <section class="card" aria-label="The plan">
      <h2>{plan.title}</h2>
      <Note><strong>Before you shoot.</strong> {plan.arrows_needed} {plan.can_see !== plan.arrows_needed && plan.can_see}</Note>
      <p class="sum">
        <span><strong class="big num">{plan.steps.length}</strong> stops</span>
        <span><strong class="big num">{plan.arrows}</strong> arrows</span>
        <span>about <strong class="big num">{minutes(plan.minutes).replace("about ", "")}</strong></span>
      </p>
      {plan.warnings.length > 0 && <Note kind="warn"><ul>{plan.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
      <p>{plan.why}</p>
      <p>{capital(plan.record)}.</p>
      <StepTable plan={plan} />
      <Cautions list={plan.cautions} />
    </section>
  );
}

function StepTable({ plan }: { plan: ShootPlan }) {
  if (plan.hidden) return <Note>The order is for the helper alone: it is shown stop by stop, behind a cover.</Note>;
  const blocks = new Set(plan.steps.map((s) => s.block)).size > 1;
  return (
    <details open={plan.steps.length <= 12}>
      <summary>Every stop, in its order</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="Stops of the plan">
        <table>
          <thead><tr><th scope="col">stop</th>{blocks && <th scope="col">{blockName(plan)}</th>}<th scope="col">set</th><th scope="col">shoot</th></tr></thead>
          <tbody>{plan.steps.map((s) => <tr key={s.position}><th scope="row" class="num">{s.position + 1}</th>{blocks && <td class="num">{s.block}</td>}<td>{s.changed ? <strong>{s.set}</strong> : s.set}</td><td>{s.shoot}</td></tr>)}</tbody>
        </table>
      </div>
    </details>
  );
}

// blockName is what a plan's stops are counted in.
export function blockName(plan: ShootPlan): string {
  return plan.kind === "pairs" || plan.kind === "sham" ? "pair" : plan.kind === "visits" ? "round" : "block";
}
