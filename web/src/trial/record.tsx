import { useEffect, useState } from "preact/hooks";
import type { Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { go } from "../lib/route";
import { Field, Note, Quantity } from "../ui/field";
import { Wrong } from "../ui/states";
import { Noted } from "./noted";
import { Asks } from "./asks";
import { readDraft } from "../lib/draft";
import { keptAs, rateWords, type Kept } from "../sound/blind";
import { StopSound, Tape } from "./soundbox";
import { fields, useStop, type StopForm } from "./stopform";
import { sendEvent, standing } from "./send";
import { useQuery } from "./query";
import { tapStop } from "./tape";
import type { Page } from "./trial";
import type { Plan } from "./types";
import { learnt, type Expected } from "./question";
import { behindOf, feels, length, signed, turns } from "./words";
import { Speeds } from "./speeds";
import { stillThere, thisVisit } from "./visits";

// StopPage is one stop: what to do with the string, what to expect, and the
// few things to note. Only the brace height is needed. Where the verdict sent
// one back for so many more arrows, it is a visit of its own.
export function StopPage(page: Page & { stop: number }) {
  const { view, stop } = page, id = view.trial.id;
  const s = view.stops[stop]!, next = view.stops[stop + 1];
  const asked = Number(useQuery("again")), still = asked > 0 && stillThere(view, stop), again = still ? 0 : asked;
  const form = useStop(page, stop, again > 0);
  const measured = standing(again > 0 ? thisVisit(view, stop, true) : s.readings, "brace_height").length > 0;
  useEffect(() => { if (again > 0) tapStop(id, stop); }, [id, stop, again]);
  const [problem, setProblem] = useState<Problem>();
  const goNext = () => {
    tapStop(id, stop + 1);
    sendEvent(id, "reached", stop + 1).then(
      () => { page.again(); go(`/trials/${id}?stop=${stop + 1}`); },
      (e: unknown) => setProblem(asProblem(e)),
    );
  };
  // A measured stop leads on; its form waits behind one button.
  const [adding, setAdding] = useState(false);
  const writing = !measured || form.dirty || adding;
  return (
    <>
      <section class="card stop" aria-label={`Stop ${s.plan.number}`}>
        <Instruction page={page} again={again} still={still} />
        {writing && (
          <form onSubmit={(e) => { e.preventDefault(); void form.save().then(() => setAdding(false)); }}>
            <Entries form={form} page={page} measured={measured} />
            {form.problem && <Note kind="bad">{form.problem}</Note>}
            <button class="main" disabled={form.busy || (measured && !form.dirty)}>{form.busy ? "Saving …" : form.correcting ? "Save the correction" : "Save this stop"}</button>
          </form>
        )}
        <Noted {...page} correct={form.correct} />
        <Asks {...page} correct={form.correct} />
        {!writing && <button type="button" class="quiet more" onClick={() => setAdding(true)}>Note more here</button>}
        {problem && <Wrong problem={problem} />}
        {measured && !form.dirty && (next && !(again > 0)
          ? <button type="button" class="main" onClick={goNext}>Next stop: {turns(next.plan.turns_from_previous)}</button>
          : <a class="button main" href={`/trials/${id}?view=verdict`}>{again > 0 ? "Shot again" : "That was the last stop"}: read the verdict</a>)}
      </section>
      <StopSound {...page} />
      <Tape {...page} />
    </>
  );
}

// holds judges the maker's range by what this string has taught so far.
function holds(plan: Plan, own: Expected): "yes" | "no" | "not sure" {
  const low = plan.low.si, high = plan.high.si;
  if (own.value + own.half < low || own.value - own.half > high) return "no";
  return own.value - own.half >= low && own.value + own.half <= high ? "yes" : "not sure";
}

function Instruction({ page: { view, stop, setup }, again, still }: { page: Page & { stop: number }; again: number; still: boolean }) {
  const s = view.stops[stop]!.plan;
  const unit = useMe().me?.unit_symbols.setting ?? "mm", comma = useComma();
  const own = learnt(view, stop, behindOf(setup)), inside = own ? holds(view.plan, own) : s.in_range, show = (m: number) => length(m, unit, comma);
  return (
    <>
      <p class="faint">Stop {s.number}, {stop + 1} of {view.stops.length}{s.turns_total === null ? "" : ` · ${signed(s.turns_total)} turns in the string then`.replace("+", "")}</p>
      {again > 0
        ? <><h2 class="big order">Make this stop again</h2><p>{signed(s.turns_from_now)} turns from where the trial began. It counts as a second visit: read the square anew, and record or time only what you shoot now.</p></>
        : still ? <p>The bow stands at this stop: more arrows now count with its first visit. For a second visit make another of the stops first, then come back here.</p>
        : <h2 class="big order">{turns(s.turns_from_previous).replace(/^./, (c) => c.toUpperCase())}</h2>}
      <p>
        {s.settling_shots > 0 && <>Shoot {s.settling_shots} to settle, then measure. </>}
        The square should read {own
          ? <><strong class="num">{show(own.value)}</strong> <span class="doubt num">({show(own.value - own.half)} to {show(own.value + own.half)}, by your own readings; planned {s.brace_height.text})</span></>
          : <><strong class="num">{s.brace_height.text}</strong> <span class="doubt num">({s.brace_height.doubt})</span></>}. Then shoot {again || s.arrows}.
        {inside !== "yes" && <strong class="warned"> {inside === "no" ? "This is outside" : "This may be outside"} the limb maker's range: measure before you shoot.</strong>}
      </p>
    </>
  );
}

function Entries({ form, page, measured }: { form: StopForm; page: Page & { stop: number }; measured: boolean }) {
  const { draft, put, errors } = form;
  const [more, setMore] = useState(false);
  const symbols = useMe().me?.unit_symbols;
  const typed = draft.turns || draft.arrows || draft.speed || draft.note;
  return (
    <>
      <div class="reading">
        <Quantity label={measured && !form.correcting ? "Brace height, read once more" : "Brace height"} quantity="setting" field="brace_height" required={!measured} inputMode="decimal"
          value={draft.brace} onInput={put("brace")} error={errors.get("brace")} name="brace_height" placeholder={symbols?.setting} />
      </div>
      <div class="taps edges" role="group" aria-label="Measured from">
        {([["pivot", "from the grip"], ["button", "from the button"]] as const).map(([v, text]) => (
          <button type="button" key={v} aria-pressed={form.edge === v} onClick={() => put("edge")(v)}>{text}</button>
        ))}
      </div>
      <Feel value={draft.feel} set={put("feel")} />
      <details open={more || Boolean(typed) || fields.some((f) => errors.has(f) && f !== "brace")} onToggle={(e) => setMore(e.currentTarget.open)}>
        <summary>Turns, arrows, speed, a note</summary>
        <div class="pairs">
          <Field label="Turns since the stop before" value={draft.turns} onInput={put("turns")} inputMode="text" error={errors.get("turns")} name="turns"
            placeholder={signed(page.view.stops[page.stop]!.plan.turns_from_previous)} help="Only if other than planned; taken out: with a minus." />
          <Field label="Arrows counted" value={draft.arrows} onInput={put("arrows")} inputMode="numeric" error={errors.get("arrows")} name="arrows" placeholder={useQuery("again") || String(page.view.stops[page.stop]!.plan.arrows)} />
        </div>
        <Speeds value={draft.speed} onInput={put("speed")} error={errors.get("speed")} />
        <Field label="Note" lines={2} value={draft.note} onInput={put("note")} error={errors.get("note")} name="note" />
      </details>
    </>
  );
}

// Feel is one tap; a second tap on the same takes it back.
export function Feel({ value, set, asks = "How did it feel?", words }: { value: string; set: (v: string) => void; asks?: string; words?: [string, string][] }) {
  const ears = readDraft<Kept>(keptAs);
  return (
    <fieldset class="feel">
      <legend>{asks} <span class="faint">One tap, or skip</span></legend>
      <div class="taps">
        {(words ?? feels).map(([v, word]) => (
          <button type="button" key={v} aria-pressed={value === v} onClick={() => set(value === v ? "" : v)}>
            <strong>{v}</strong><span>{word}</span>
          </button>
        ))}
      </div>
      {ears && !words && <p class="doubt">{rateWords(ears)}</p>}
    </fieldset>
  );
}
