import { useState } from "preact/hooks";
import { useAccount } from "../lib/account";
import { api, post, toProblem } from "../lib/http";
import { useGet } from "../lib/load";
import { go } from "../lib/route";
import { clearHere } from "../lib/leaving";
import { Field, Note } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { day } from "./form";
import { useSure } from "./sure";

interface Belongings { person: string; name: string; records: Record<string, number>; may_be_erased: boolean }

const nouns = ["bow", "setup", "session", "reading", "trial", "end", "recording", "verdict", "share"];

const counted = (b: Belongings) => nouns.filter((k) => (b.records[k] ?? 0) > 0).map((k) => `${b.records[k]} ${k === "setup" ? "set-up" : k}${b.records[k] === 1 ? "" : "s"}`).join(", ") || "nothing but the name";

// Leave is taking along what is one's own, and going.
export function Leave() {
  const { account, again } = useAccount();
  const { busy, problem, run, asking } = useSure();
  const [saved, setSaved] = useState(false);
  const take = () => run(async () => { await download(`${api}/account/export`, "my-notebook.zip"); setSaved(true); });
  if (!account?.person) return null;
  return (
    <section class="card">
      <h2>What is yours</h2>
      <p>Your bows with everything written on them, recordings too, as one file. Any Tautline reads it in: <code>tautline import my-notebook.zip</code>. Names of others are not in it.</p>
      {asking ?? <button type="button" disabled={busy} onClick={() => void take()}>{busy ? "Putting it together…" : "Take it along"}</button>}
      {saved && <p role="status">Saved on this device.</p>}
      {problem && <Wrong problem={problem} />}
      <Erase person={account.person} own gone={() => { again(); go("/"); }} />
    </section>
  );
}

// Erase takes a person out for good: it counts what goes, and asks for name and
// password.
export function Erase({ person, own, gone }: { person: string; own?: boolean; gone: () => void }) {
  const [open, setOpen] = useState(false);
  const of = useGet<Belongings>(open ? `/people/${person}/belongings` : null);
  return (
    <details onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>{own ? "Leave, and be erased" : "Erase this person"}</summary>
      {open && <Answer of={of} what="Counting…">{(b) => b.may_be_erased
        ? <Going of={b} own={own} gone={gone} />
        : <Note>The last owner of a notebook cannot leave it. Make someone else owner first.</Note>}</Answer>}
    </details>
  );
}

function Going({ of, own, gone }: { of: Belongings; own?: boolean; gone: () => void }) {
  const [name, setName] = useState("");
  const { busy, problem, run, asking } = useSure();
  const [done, setDone] = useState<{ copies: number; until: string }>();
  const erase = () => run(async () => {
    const told = await post<{ copies: number; until: string }>(`${api}/people/${of.person}/erasure`, { name });
    if (own) { await clearHere(); gone(); } else setDone(told);
  });
  if (done) return (
    <Note>
      <p role="status">{of.name} is erased.{done.copies > 0 && " The copy from before the last update went too, so there is no going back to the program before it; backups are not touched by that."}</p>
      <p>Backups from before hold the old state until {day(done.until)}, then they go by themselves. Throw away those that were made by hand or lie elsewhere, and erase again after restoring one of them.</p>
      <button type="button" onClick={gone}>Good</button>
    </Note>
  );
  return (
    <>
      <Note kind="warn">
        <p>This takes out for good: {counted(of)}. Nothing brings it back but {own ? "the file you took along" : "a file that was taken along before"}; to close the door only, {own ? "log out everywhere" : "let them in no longer"} instead.</p>
        <p>What {own ? "you" : "they"} wrote on others' bows stays theirs, by “a former member”. Backups hold the old state until they are thrown away, within 90 days; copies from before an update go at once.</p>
      </Note>
      {asking ?? (
        <form noValidate onSubmit={(e) => { e.preventDefault(); void erase(); }}>
          <Field label={`Type the name to be sure: ${of.name}`} required value={name} onInput={setName} error={problem?.at("name")} />
          {problem && problem.fields.length === 0 && <Wrong problem={problem} />}
          <button type="submit" class="danger" disabled={busy || name.trim() === ""}>{busy ? "Erasing…" : "Erase for good"}</button>
        </form>
      )}
    </>
  );
}

// download saves an answer as a file; a refusal is a problem like any other.
async function download(path: string, name: string): Promise<void> {
  const res = await fetch(path);
  if (!res.ok) throw await toProblem(res);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await res.blob());
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
