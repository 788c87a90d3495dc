import { api, post } from "../lib/http";
import { useLoaded } from "../lib/load";
import { useMe } from "../lib/me";
import type { CheckView, Doubted, Preview, SetUpView, StopView } from "../lib/types";
import { metres } from "../lib/words";
import { Note } from "../ui/field";
import { RangeBar } from "../ui/range";
import { Cautions, Forecast } from "./forecast";

// Difference shows a change's forecast beside the one before it.
export function Difference({ now, view }: { now?: SetUpView; view: CheckView }) {
  const person = useMe().me?.person;
  const key = now && person ? `${now.setup.id}|${person.units}|${person.decimal_comma}` : null;
  const before = useLoaded<Preview>(key, (signal) => post<Preview>(`${api}/predict`, { setup: now!.setup.id }, signal));
  const after = view.preview;
  if (!after) return <>{view.brace && <RangeBar brace={view.brace} />}<p class="faint">{view.no_preview ?? (view.ok ? "" : "The forecast waits until every entry can be read.")}</p></>;
  const alone = !before.value || view.changes.length === 0;
  return (
    <>
      {view.brace && <RangeBar brace={view.brace} />}
      {alone ? <Forecast of={after} />
        : onlyBrace(view) ? <Paired now={now!} before={before.value!} after={after} />
        : <SideBySide before={before.value!} after={after} />}
      {now && !alone && <p>What it does to the holes: <a href={holesOf(now, view)}>at the target</a>. What you typed here is kept.</p>}
      <Cautions lines={after.cautions} />
    </>
  );
}

// onlyBrace tells whether the brace height alone moves: then both ends are
// computed on the same plausible bows, and what they share cancels.
const onlyBrace = (view: CheckView): boolean => view.changes.every((c) => c.key === "brace_height.value" || c.key === "notes" || c.key === "nocking_point.value" || c.key === "tiller" || c.key.startsWith("button.") || c.key === "centre_shot")
  && view.changes.some((c) => c.key === "brace_height.value");

// moved are the entries that the target's page can move, by its names.
const moved: Record<string, string> = {
  "brace_height.value": "brace_height", centre_shot: "centre_shot", "arrow.spine": "spine", "arrow.point_mass": "point_mass", "arrow.shaft_length": "shaft_length", "draw.length": "draw_length",
};

// holesOf takes the change along to the target's page.
function holesOf(now: SetUpView, view: CheckView): string {
  const toButton = (now.setup.settings.brace_height as { from?: string } | undefined)?.from === "button";
  const kept = view.changes.filter((c) => moved[c.key] && c.after && !(toButton && c.key === "brace_height.value"));
  const query = new URLSearchParams(kept.map((c) => [moved[c.key]!, c.after])).toString();
  return `/bows/${now.setup.bow}/target${query && `?${query}`}`;
}

interface SweepView { stops: StopView[]; compared_with: number }

function Paired({ now, before, after }: { now: SetUpView; before: Preview; after: Preview }) {
  const a = before.brace_height.si, b = after.brace_height.si;
  const far = Math.abs(a - b) > 1e-5;
  const span = { from: metres(Math.min(a, b)), to: metres(Math.max(a, b)), steps: 2 };
  const sweep = useLoaded<SweepView>(far ? JSON.stringify([now.setup.id, span]) : null, (signal) => post<SweepView>(`${api}/sweep`, { setup: now.setup.id, ...span }, signal));
  const changes = sweep.value?.stops[a < b ? 1 : 0]?.changes;
  if (!far || sweep.problem) return <SideBySide before={before} after={after} />;
  return <SideBySide before={before} after={after} changes={changes ?? []} />;
}

// SideBySide is before and after, a block for each quantity; the change has its
// own doubt only where the model can pair the two.
function SideBySide({ before, after, changes }: { before: Preview; after: Preview; changes?: Doubted[] }) {
  const names = ["speed", "draw_weight", "stored_energy", "residual_energy", "efficiency", "time_on_string", "string_length"];
  const find = (list: Doubted[] | undefined, n: string) => list?.find((d) => d.name === n);
  if (names.every((n) => find(before.predicted, n)?.si === find(after.predicted, n)?.si)) return <Unseen of={after} />;
  return (
    <>
      <ul class="compare">
        {names.map((n) => {
          const b = find(before.predicted, n), a = find(after.predicted, n);
          return a && b && <Compared key={n} before={b} after={a} change={find(changes, n)} />;
        })}
      </ul>
      {changes
        ? <p class="doubt">What all plausible bows share cancels in the change, so its doubt is smaller than that of the two values.</p>
        : <Note>For a change of this kind the model cannot pair before and after, so the difference has no doubt of its own to give: read it no finer than the spans.</Note>}
      <p class="doubt">Spans hold 90 % of {after.plausible_bows} plausible bows. The model is unfitted.</p>
    </>
  );
}

// Unseen is said of a change that the model of bow and shot knows nothing of.
function Unseen({ of }: { of: Preview }) {
  const speed = of.predicted.find((d) => d.name === "speed");
  return (
    <>
      <p>Draw weight, energy and speed stay as they are{speed && <> (arrow speed <strong class="num">{speed.text}</strong>, {speed.doubt})</>}: the model of the bow and the shot does not see this change.</p>
    </>
  );
}

function Compared({ before, after, change }: { before: Doubted; after: Doubted; change?: Doubted }) {
  return (
    <li class="num">
      <span class="faint">{after.label}</span>
      <span>{before.text} <span aria-label="becomes">→</span> <strong>{after.text}</strong></span>
      {change && <span><strong>{change.text}</strong> <span class="doubt">({change.doubt})</span></span>}
      <span class="doubt">before {before.doubt}; after {after.doubt}</span>
    </li>
  );
}
