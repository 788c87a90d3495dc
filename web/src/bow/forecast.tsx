import type { CheckView, Doubted, Preview } from "../lib/types";
import { Note } from "../ui/field";
import { RangeBar } from "../ui/range";

// What the model says of a set-up: the few numbers people look for large, the
// rest below, each with its doubt.

const headline = ["speed", "draw_weight", "stored_energy"];

export function Forecast({ of }: { of: Preview }) {
  const first = headline.flatMap((n) => of.predicted.filter((d) => d.name === n));
  const rest = of.predicted.filter((d) => !headline.includes(d.name));
  return (
    <>
      <div class="numbers">{first.map((d) => <Big key={d.name} of={d} />)}</div>
      <details>
        <summary>All of the forecast</summary>
        <NumberTable rows={rest} />
      </details>
      <p class="doubt">
        Spans hold 90 % of {of.plausible_bows} plausible bows that meet your readings. {of.fitted ? "" : "The model is unfitted: nothing in it has seen this bow shoot."}
      </p>
      {of.notes.length > 0 && (
        <details>
          <summary>What it rests on</summary>
          <ul class="plain">{of.notes.map((n) => <li key={n}>{n}</li>)}</ul>
        </details>
      )}
    </>
  );
}

function Big({ of }: { of: Doubted }) {
  return (
    <div class="number">
      <span class="faint">{of.label}</span>
      <span class="big num">{of.text}</span>
      <span class="doubt num">{of.doubt}</span>
    </div>
  );
}

export function NumberTable({ rows }: { rows: Doubted[] }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Forecast in numbers">
      <table>
        <thead><tr><th scope="col">what</th><th scope="col">best</th><th scope="col">doubt</th></tr></thead>
        <tbody>{rows.map((d) => <tr key={d.name}><td>{d.label}</td><td>{d.text}</td><td>{d.doubt}</td></tr>)}</tbody>
      </table>
    </div>
  );
}

// SafetyNotes are the cautions of the settings themselves; they come before
// any number.
export function SafetyNotes({ view }: { view: Pick<CheckView, "brace" | "shown"> }) {
  const arrow = view.shown["/arrow/mass"], least = view.shown["/arrow/minimum_mass"];
  const brace = view.brace?.state === "below" || view.brace?.state === "above" ? view.brace : undefined;
  return (
    <>
      {brace && <Note kind="warn"><strong>Outside the limb maker's range.</strong> {brace.text} Bring it inside before you shoot.</Note>}
      {arrow && least && arrow.si < least.si && (
        <Note kind="bad"><strong>Do not shoot this arrow.</strong> It weighs {arrow.text}, and the bow maker's least is {least.text}.</Note>
      )}
    </>
  );
}

export function Cautions({ lines }: { lines: string[] }) {
  return <ul class="cautions">{lines.map((c) => <li key={c}>{c}</li>)}</ul>;
}

// PreviewCard stands beside a form and shows what its content would do.
export function PreviewCard({ view, busy, missing }: { view?: CheckView; busy: boolean; missing: string }) {
  const done = view?.preview;
  return (
    <section class="card preview" aria-live="polite" aria-busy={busy}>
      <h2>What this set-up does</h2>
      {view && <SafetyNotes view={view} />}
      {view?.brace && view.brace.state !== "no-reading" && <RangeBar brace={view.brace} />}
      {done ? <><Forecast of={done} /><Cautions lines={done.cautions} /></> : <p class="faint">{view?.no_preview ?? missing}</p>}
      {busy && done && <p class="doubt">Looking again…</p>}
    </section>
  );
}
