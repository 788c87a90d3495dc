import { useEffect, useState } from "preact/hooks";
import { useBow } from "../lib/bar";
import { allRows, asProblem, useGet, useLoaded } from "../lib/load";
import { notIn, waiting } from "../lib/outbox";
import { useTitle } from "../lib/route";
import { saidOf } from "../lib/said";
import { bringBack, retract, retractAll } from "../lib/takeback";
import type { BenchView, BowView } from "../lib/types";
import { offerUndo } from "../lib/undo";
import { actOf, uuidv7 } from "../lib/uuid";
import { useNamed } from "../lib/whose";
import { capital, when } from "../lib/words";
import { useQuery } from "../trial/query";
import { useUnsent } from "../trial/send";
import { Note } from "../ui/field";
import { Answer } from "../ui/states";

interface Retraction { id: string; target: string; at: string; by?: string; reason?: string }
interface Row { retraction: Retraction; by_name?: string; noun: string; what: string; at?: string; bow?: string; session?: string; unsent?: boolean }

// Act is what was taken back in one go: one record, or a whole table.
interface Act { first: Row; rows: Row[]; retractions: string[] }

// TakenBackPage lists what is out of sight and brings it back: of one bow, of
// one session, or of everything this person may see.
export function TakenBackPage({ id }: { id?: string }) {
  const bow = useGet<BowView>(id ? `/bows/${id}` : null);
  const session = useQuery("session"), unsent = useUnsent();
  const query = `/retractions?${new URLSearchParams({ ...(id && { bow: id }), ...(session && { session }) })}`;
  const list = useLoaded<Row[]>(query, (signal) => allRows<Row>(query, signal), query);
  const out = list.problem?.offline === true;
  useBow(bow.value);
  useTitle("Taken back");
  useEffect(() => { list.again(); }, [unsent]);
  return (
    <>
      <p class="crumb">{session ? <a href={`/sheets/session/${session}`}>The session</a> : id ? <a href={`/bows/${id}`}>{bow.value?.bow.name ?? "Bow"}</a> : <a href="/settings">Settings</a>}</p>
      <h1>Taken back{session && " in this session"}</h1>
      <p>Out of sight and out of every sum, and destroyed by nobody: it stays here, thirty days and longer, until someone brings it back. Only the demo's own, and a person who is erased, go for good.</p>
      <Answer of={{ ...list, value: list.value ?? (out ? [] : undefined) }} what="Looking for what was taken back…">
        {(rows) => <Acts acts={actsOf(withUnsent(rows, list.at, id, session))} none={out ? "This device knows of nothing that was taken back here." : "Nothing is taken back here."} everywhere={!id && !session} again={list.again} />}
      </Answer>
      {id && session && <p><a class="button quiet" href={`/bows/${id}/taken-back`}>All of this bow</a></p>}
      {id && !session && <p><a class="button quiet" href="/taken-back">Of every bow</a></p>}
    </>
  );
}

function Acts({ acts, none, everywhere, again }: { acts: Act[]; none: string; everywhere: boolean; again: () => void }) {
  const bench = useGet<BenchView>(everywhere ? "/bows?archived=true" : null);
  const named = useNamed(), names = new Map(bench.value?.bows.map((b) => [b.bow.id, named(b)]));
  if (acts.length === 0) return <Note><p>{none}</p></Note>;
  return <ul class="lines taken-back">{acts.map((a) => <OneAct key={a.first.retraction.id} act={a} bow={names.get(a.first.bow ?? "")} again={again} />)}</ul>;
}

function OneAct({ act, bow, again }: { act: Act; bow?: string; again: () => void }) {
  const [far, setFar] = useState<{ n: number; of: number }>();
  const [wrong, setWrong] = useState("");
  const { first, rows } = act, what = capital(whatOf(act)), { retraction: by } = first;
  const back = async () => {
    setWrong("");
    setFar({ n: 0, of: rows.length });
    try {
      await returned(act, (n, of) => setFar({ n, of }));
      offerUndo({ said: `${what} ${rows.length === 1 ? "is" : "are"} back.`, undo: (more) => takenAgain(act, more).then(again), undone: "Taken back again." });
      again();
    } catch (e) {
      setWrong(asProblem(e).message);
    }
    setFar(undefined);
  };
  return (
    <li>
      <div>
        <h2>{what}</h2>
        <p class="small">Taken back {when(by.at)}{first.by_name && ` by ${first.by_name}`}{by.reason && `: ${by.reason}`}.{first.unsent && <span class="unsent">not yet sent</span>}</p>
        {(first.at || bow) && <p class="faint small">{[bow, first.at && `Written ${when(first.at)}`].filter(Boolean).join(". ")}</p>}
        {rows.length > 1 && <details><summary>What they are</summary><ul>{rows.map((r) => <li key={r.retraction.id}>{capital(r.what)}</li>)}</ul></details>}
        {wrong && <p class="error" role="alert">{wrong}</p>}
      </div>
      <button type="button" disabled={far !== undefined} aria-label={`Bring it back: ${what}`} onClick={() => void back()}>{far && far.of > 1 ? <span class="num">{far.n} of {far.of}</span> : "Bring it back"}</button>
    </li>
  );
}

// returned brings every record of an act back in sight.
async function returned({ retractions }: Act, far: (n: number, of: number) => void): Promise<void> {
  if (retractions.length === 1) await bringBack(retractions[0]!);
  else await retractAll(retractions, uuidv7(), "brought back", far);
}

// takenAgain takes them back anew: what undid a retraction cannot be undone
// itself.
async function takenAgain({ rows, first: { retraction } }: Act, far: (n: number, of: number) => void): Promise<void> {
  const reason = retraction.reason ?? "taken back again";
  if (rows.length === 1) await retract(retraction.target, reason);
  else await retractAll(rows.map((r) => r.retraction.target), uuidv7(), reason, far);
}

// actsOf puts together what was taken back in one go; what two people took
// back stands once, and comes back at once.
function actsOf(rows: Row[]): Act[] {
  const acts = new Map<string, Act>(), of = new Map<string, Act>();
  for (const r of rows) {
    const { id, target } = r.retraction, known = of.get(target) ?? acts.get(actOf(id));
    const act = known ?? { first: r, rows: [], retractions: [] };
    if (!of.has(target)) act.rows.push(r);
    act.retractions.push(id);
    if (!known) acts.set(actOf(id), act);
    of.set(target, act);
  }
  return [...acts.values()];
}

const plural: Record<string, string> = { end: "ends", reading: "readings" };

function whatOf({ first, rows }: Act): string {
  const alike = rows.every((r) => r.noun === first.noun);
  return rows.length === 1 ? first.what : `${rows.length} ${(alike && plural[first.noun]) || "records"}`;
}

// withUnsent adds what was taken back on this device and not sent yet, and
// leaves out what was brought back here.
function withUnsent(rows: Row[], at: string | undefined, bow: string | undefined, session: string): Row[] {
  const here = notIn(at ?? "").filter((w) => w.path.includes("/retractions/")).map((w) => ({ id: w.path.split("/").pop()!, at: w.at ?? "", unsent: waiting().some((o) => o.path === w.path), ...(w.body as { target: string; reason?: string }) }));
  const undone = new Set(here.map((h) => h.target)), known = new Set(rows.map((r) => r.retraction.id)), were = new Set([...known, ...here.map((h) => h.id)]);
  const added = here.filter((h) => !known.has(h.id) && !were.has(h.target)).flatMap(({ unsent, ...retraction }): Row[] => {
    const record = notIn().find((w) => w.path.endsWith(retraction.target)), of = record?.body as { bow?: string; session?: string; at?: string } | undefined;
    if ((bow && of?.bow !== bow) || (session && of?.session !== session)) return [];
    return [{ retraction, noun: "record", what: record ? saidOf(record) : "a record", at: of?.at, bow: of?.bow, session: of?.session, unsent }];
  });
  return [...added.reverse(), ...rows].filter((r) => !undone.has(r.retraction.id));
}
