import { api, post } from "../lib/http";
import { useLoaded } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import { go } from "../lib/route";
import { capital } from "../lib/words";
import { useQuery } from "../trial/query";
import { Chart } from "../ui/chart";
import { Choice, Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { keyOf, useGroupWords, withQuery } from "./groups";
import type { Compared, Group } from "./types";
import { VerdictPicture } from "./verdictpicture";

// Compare asks which of two set-ups is tighter. Only arrows of one kind, shot
// at one distance, can be compared.
export function Compare({ groups }: { groups: Group[] }) {
  const words = useGroupWords();
  const askedA = useQuery("a"), askedB = useQuery("b"), looking = useQuery("looking") === "1";
  const able = groups.filter((g) => g.n_arrows + g.n_ring_only > 0 && groups.some((o) => o !== g && alike(o, g)));
  const a = able.find((g) => keyOf(g) === askedA) ?? able.at(-1);
  const partners = a ? able.filter((g) => g !== a && alike(g, a)) : [];
  const b = partners.find((g) => keyOf(g) === askedB) ?? partners.at(-1);
  const set = (more: Record<string, string>) => go(`${location.pathname}?${withQuery(more)}`);
  return (
    <section class="card" aria-label="Compare two set-ups">
      <h2>Compare two set-ups</h2>
      {!a || !b ? <p>Two set-ups shot at the same distance with the same kind of arrow can be compared here. So far there is one.</p> : (
        <>
          <div class="pairs">
            <Choice label="A" value={keyOf(a)} onInput={(v) => set({ a: v })} options={able.map((g): [string, string] => [keyOf(g), words(g)])} />
            <Choice label="B" value={keyOf(b)} onInput={(v) => set({ b: v })} options={partners.map((g): [string, string] => [keyOf(g), words(g)])} />
          </div>
          <Choice label="How they were shot" value={looking ? "1" : ""} onInput={(v) => set({ looking: v })} options={[["", "so many arrows each, the number fixed before"], ["1", "in pairs of ends, order by coin, looked at as they came"]]} />
          <Answered a={a} b={b} looking={looking} />
          <p class="row"><a class="button" href={`/sheets/compare/${a.setup}?with=${b.setup}`}>Sheet of these two set-ups</a></p>
        </>
      )}
    </section>
  );
}

const alike = (x: Group, y: Group): boolean => x.kind === y.kind && x.distance_m === y.distance_m && x.setup !== y.setup;

// selection names a group's arrows for the notebook.
export const selection = (g: Group) => ({ setup: g.setup, kind: g.kind, ...(g.distance_m !== null && { distance: `${Math.round(g.distance_m * 1e6)}e-6 m` }) });

function Answered({ a, b, looking }: { a: Group; b: Group; looking: boolean }) {
  const units = useMe().me?.person.units;
  const key = `${keyOf(a)}|${keyOf(b)}|${looking}|${a.n_arrows}|${b.n_arrows}|${units}`;
  const got = useLoaded<Compared>(key, (signal) => post(`${api}/groups/compare`, { a: selection(a), b: selection(b), looking_as_you_go: looking }, signal));
  if (!got.value) return got.problem ? <Wrong problem={got.problem} again={got.again} /> : <Waits what="Comparing…" />;
  return <VerdictOf of={got.value} observed={!looking} />;
}

// VerdictOf shows a comparison: the answer first, in the largest letters, and
// "cannot tell yet" no smaller than the others.
export function VerdictOf({ of, observed }: { of: Compared; observed?: boolean }) {
  const { comparison: c, figures } = of, comma = useComma();
  return (
    <div aria-label="Verdict" role="group">
      <VerdictPicture c={c} />
      <p class="lead">{c.text}</p>
      {c.arrows_more !== null && c.arrows_more > 0 && <p><span class="big num">{c.arrows_more}</span> more arrows a set-up would show a difference as large as the one seen, four times in five.</p>}
      {c.verdict === "cannot tell yet" && c.arrows_more === null && <p>The two are so alike that no sensible number of arrows would tell them apart.</p>}
      <p>{c.can_see}</p>
      {observed && <Note kind="warn">These arrows were shot on different days, in no order by coin: wind, form and day are mixed into the difference. A trial with paired ends keeps them out.</Note>}
      {c.warnings.length > 0 && <Note kind="warn"><ul>{c.warnings.map((w) => <li key={w}>{capital(w)}</li>)}</ul></Note>}
      {c.would_change.length > 0 && <><h3>What would change this</h3><ul>{c.would_change.map((w) => <li key={w}>{capital(w)}</li>)}</ul></>}
      {figures.filter((f) => f.series.some((s) => s.x.length > 2)).map((f) => <Chart key={f.title} figure={f} comma={comma} />)}
      <details>
        <summary>How it was told, and what it assumes</summary>
        <p>{capital(c.method)}. {c.n_arrows_a} arrows of A, {c.n_arrows_b} of B{c.pairs ? `, in ${c.pairs} pairs` : ""}.{c.p_value !== null && ` p = ${c.p_value.toFixed(3)}.`}{c.evidence !== null && ` Evidence ${c.evidence.toFixed(2)} (1 is none${looking(c.pairs)}).`}</p>
        <ul>{c.assumptions.map((a) => <li key={a}>{capital(a)}</li>)}</ul>
      </details>
    </div>
  );
}

const looking = (pairs?: number): string => (pairs ? ", 20 decides" : "");
