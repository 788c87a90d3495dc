import { useEffect, useState } from "preact/hooks";
import { KeptAlong } from "../bench/along";
import { DemoCard } from "../bench/doors";
import { useAccount } from "../lib/account";
import { keepDraft, useDraft } from "../lib/draft";
import { api, Problem, put } from "../lib/http";
import { asProblem, useGet } from "../lib/load";
import { applyTheme, useMe } from "../lib/me";
import { useTitle } from "../lib/route";
import type { Me, Person, Theme, Units } from "../lib/types";
import { offerUndo } from "../lib/undo";
import { Clash } from "../ui/clash";
import { Field, Pick } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { Keeping } from "./keeping";
import { Sounds } from "./sounds";
import { Support } from "./support";

type Wish = Pick<Person, "name" | "hand" | "units"> & { decimal_comma: boolean; theme: Theme };
type Pick<T, K extends keyof T> = { [P in K]: T[P] };

const wishOf = (p: Person): Wish => ({ name: p.name, hand: p.hand, units: p.units, decimal_comma: p.decimal_comma ?? false, theme: p.theme ?? "" });

// SettingsPage is who reads the notebook, and how.
export function SettingsPage() {
  useTitle("Settings");
  const { me, problem, again } = useMe();
  const { account } = useAccount();
  return (
    <>
      <p class="crumb"><a href="/">Bench</a></p>
      <h1>Settings</h1>
      {me ? <SettingsForm key={me.tag} me={me} /> : problem ? <Wrong problem={problem} again={again} /> : <Waits what="Asking the notebook…" />}
      {account?.person && <p><a class="button" href="/account">Your account: password, devices, tokens</a></p>}
      <Keeping />
      <KeptAlong />
      <DemoCard />
      <Sounds />
      <Program />
      {(!account?.accounts || account.role === "owner") && <Support />}
    </>
  );
}

function SettingsForm({ me }: { me: Me }) {
  const { set } = useMe();
  const [form, setForm, clear] = useDraft<Wish>(`me|${me.tag}`, wishOf(me.person));
  const [problem, setProblem] = useState<Problem>();
  const [busy, setBusy] = useState(false);
  const change = <K extends keyof Wish>(key: K, value: Wish[K]) => setForm((f) => ({ ...f, [key]: value }));
  // The theme is put on at once; leaving without saving takes it off again.
  useEffect(() => {
    applyTheme(form.theme);
    return () => applyTheme(me.person.theme ?? "");
  }, [form.theme]);

  const save = async (tag: string): Promise<Me | undefined> => {
    setBusy(true);
    setProblem(undefined);
    try {
      const next = await put<Me>(`${api}/me`, form, { "If-Match": tag });
      clear();
      set(next);
      return next;
    } catch (e) {
      setProblem(asProblem(e));
      return undefined;
    } finally {
      setBusy(false);
    }
  };
  // Either choice can be undone: the other side is still at hand.
  const sendMine = async (tag: string, stored: Person) => {
    const next = await save(tag);
    if (next) offerUndo({ said: "Yours are used.", undo: async () => set(await put<Me>(`${api}/me`, wishOf(stored), { "If-Match": next.tag })), undone: "The others are used again." });
  };
  const keepTheirs = (stored: Person, tag: string) => {
    const mine = form;
    set({ person: stored, tag, unit_symbols: {} });
    offerUndo({ said: "The others are kept.", undo: () => keepDraft(`me|${tag}`, mine), undone: "Yours stand in the form again, not saved yet." });
  };
  const same = JSON.stringify(form) === JSON.stringify(wishOf(me.person));
  return (
    <form noValidate onSubmit={(e) => { e.preventDefault(); void save(me.tag); }}>
      <div class="two">
        <div>
          <fieldset>
            <legend>You</legend>
            <Field label="Name" required value={form.name} error={problem?.at("name")} onInput={(v) => change("name", v)} help="Stands behind everything you write down." />
          </fieldset>
          <Pick label="Hand that draws the string" value={form.hand} onInput={(v) => change("hand", v)} options={[["right", "right"], ["left", "left"]]} help="Left and right in our words mirror for it; what you measured never does." />
          <Pick<Theme> label="Colours" value={form.theme} onInput={(v) => change("theme", v)} options={[["", "as this device"], ["light", "light"], ["dark", "dark"], ["sun", "sun", "black on white, larger, for the range"]]} />
        </div>
        <div>
          <Pick<Units> label="Units" value={form.units} onInput={(v) => change("units", v)} help="How numbers are shown, and how a number without a unit is read. You can type any unit at any time."
            options={[["metric", "metric", "mm, cm, N, g, m/s"], ["imperial", "imperial", "in, lbf, gr, ft/s"], ["mixed", "mixed", "mm on the bow, in for the draw, lbf, gr, m/s"]]} />
          <Pick label="Decimal mark" value={form.decimal_comma ? "comma" : "point"} onInput={(v) => change("decimal_comma", v === "comma")} options={[["point", "22.5"], ["comma", "22,5"]]} />
          {problem && <Clash<Person> problem={problem} what="These settings" keepTheirs={keepTheirs} sendMine={sendMine} />}
          {!same && !problem && <p class="doubt" role="status">Not saved yet.</p>}
          <button class="main" type="submit" disabled={busy || same}>{busy ? "Saving…" : same ? "Saved" : "Save"}</button>
        </div>
      </div>
    </form>
  );
}

function Program() {
  const health = useGet<{ version: string }>("/health");
  return (
    <section class="card">
      <h2>This notebook</h2>
      <p>It lies on the machine that runs Tautline{health.value ? ` (version ${health.value.version})` : ""} and nowhere else. Nothing is sent anywhere.</p>
      <ul class="plain">
        <li>A copy to keep: <code>tautline backup</code>; the daily ones: <code>tautline restore</code></li>
        <li>Everything as files others can read: <code>tautline export</code></li>
        <li>Is it whole? <code>tautline verify</code>; something is wrong: <code>tautline doctor</code></li>
      </ul>
      <p><a href="/unsent">Records not yet sent from this device</a> · <a href="/taken-back">What was taken back</a> · <a href="/openapi.json">For programs: the API</a></p>
    </section>
  );
}
