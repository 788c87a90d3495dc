import { useRef, useState } from "preact/hooks";
import { useAccount, type Role } from "../lib/account";
import { api, put, request } from "../lib/http";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { BenchView, Person, Rows } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { Choice, Field, Note } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { day, useSend } from "./form";
import { Erase } from "./leave";
import type { Share } from "./whose";

interface Known extends Person { tag: string; role?: Role; disabled?: boolean }
interface Link { id: string; name?: string; role?: Role; person?: string; expires: string; path?: string }

const roles: [Exclude<Role, "">, string][] = [
  ["archer", "archer: has bows, shares them"], ["coach", "coach: works on what archers share"],
  ["viewer", "viewer: sees what is shared"], ["owner", "owner: lets people in, sees all"],
];

// PeoplePage is who is in the notebook, what is shared, and who is invited.
export function PeoplePage() {
  useTitle("People");
  const { account } = useAccount();
  const people = useGet<Rows<Known>>("/people");
  const nameOf = (id: string) => (id === account?.person ? "you" : people.value?.rows.find((p) => p.id === id)?.name ?? "someone");
  return (
    <>
      <p class="crumb"><a href="/">Bench</a></p>
      <div class="row spread head">
        <h1>People</h1>
        {account?.role === "owner" && <a class="button" href="/people/log">Who did what</a>}
      </div>
      <Answer of={people} what="Asking who is here…">
        {(p) => (
          <>
            <ul class="cards plain">{p.rows.map((x) => <PersonCard key={x.id} of={x} changed={people.again} />)}</ul>
            <Shares people={p.rows} nameOf={nameOf} />
            {account?.role !== "viewer" && <Invitations />}
          </>
        )}
      </Answer>
    </>
  );
}

function PersonCard({ of, changed }: { of: Known; changed: () => void }) {
  const { account } = useAccount();
  const [link, setLink] = useState<Link>();
  const { busy, problem, send } = useSend();
  const mine = of.id === account?.person;
  const stand = (role: Role, disabled: boolean) => send(async () => {
    await put(`${api}/people/${of.id}/standing`, { role, disabled }, { "If-Match": of.tag });
    changed();
  });
  return (
    <li class="card">
      <h2>{of.name}{mine ? " (you)" : ""}</h2>
      <p>{of.role || "archer"}{of.disabled ? ", no longer let in" : ""}</p>
      {account?.role === "owner" && !mine && (
        <details>
          <summary>Change</summary>
          <Choice label="Role" value={(of.role || "archer") as Exclude<Role, "">} options={roles} onInput={(r) => void stand(r, of.disabled ?? false)} />
          <div class="row">
            <button type="button" disabled={busy} onClick={() => void stand(of.role || "archer", !of.disabled)}>{of.disabled ? "Let in again" : "Let in no longer"}</button>
            <button type="button" class="quiet" disabled={busy} onClick={() => void send(async () => setLink(await put<Link>(`${api}/invitations/${uuidv7()}`, { person: of.id, name: of.name })))}>Link for a new password</button>
          </div>
          {link && <LinkShown link={link} />}
          <Erase person={of.id} gone={changed} />
          {problem && <Wrong problem={problem} again={changed} />}
        </details>
      )}
    </li>
  );
}

function LinkShown({ link }: { link: Link }) {
  return (
    <Note kind="warn">
      <p>Give this link to that person alone. It works once, until {day(link.expires)}, and is shown only now.</p>
      <p class="code">{location.origin}{link.path}</p>
    </Note>
  );
}

// Shares are what one gave and got; giving takes two choices.
function Shares({ people, nameOf }: { people: Known[]; nameOf: (id: string) => string }) {
  const { account } = useAccount();
  const shares = useGet<Rows<Share>>("/shares");
  const bench = useGet<BenchView>("/bows");
  const { busy, problem, send } = useSend();
  const others = people.filter((p) => p.id !== account?.person && !p.disabled);
  const mine = (bench.value?.bows ?? []).filter((b) => b.bow.owner === account?.person);
  const [to, setTo] = useState("");
  const [bow, setBow] = useState("");
  const [may, setMay] = useState<"read" | "work">("read");
  const tried = useRef({ id: "", as: "" });
  const give = () => send(async () => {
    const share = { with: to || others[0]?.id, bow: bow || undefined, may }, as = JSON.stringify(share);
    if (tried.current.as !== as) tried.current = { id: uuidv7(), as }; // a second try after a lost answer is the same share
    await put(`${api}/shares/${tried.current.id}`, share);
    tried.current.as = "";
    shares.again();
  });
  const back = (s: Share) => send(async () => { await put(`${api}/retractions/${uuidv7()}`, { target: s.id }); shares.again(); });
  const bowName = (id?: string) => (id ? bench.value?.bows.find((b) => b.bow.id === id)?.bow.name ?? "one bow" : "all bows");
  return (
    <section class="card">
      <h2>Shared</h2>
      <Answer of={shares} what="Asking what is shared…">
        {(s) => s.rows.length === 0 ? <p class="help">Nothing yet. A share lets someone see your bows, or work on them; you can take it back at any time.</p> : (
          <ul class="plain">{s.rows.map((x) => (
            <li key={x.id} class="row spread">
              <span>{nameOf(x.with)} may {x.may === "work" ? "work on" : "see"} {bowName(x.bow)} of {nameOf(x.archer)}</span>
              <button type="button" class="quiet" disabled={busy} onClick={() => void back(x)}>{x.with === account?.person ? "Leave" : "Take back"}</button>
            </li>
          ))}</ul>
        )}
      </Answer>
      {account?.role !== "viewer" && (others.length === 0 ? <p class="help">You know nobody here yet: invite someone first.</p> : (
        <form onSubmit={(e) => { e.preventDefault(); void give(); }}>
          <Choice label="Who" value={to || others[0]!.id} options={others.map((p) => [p.id, p.name])} onInput={setTo} />
          <Choice label="What" value={bow} options={[["", "all my bows, later ones too"], ...mine.map((b): [string, string] => [b.bow.id, b.bow.name])]} onInput={setBow} />
          <Choice label="They may" value={may} options={[["read", "see"], ["work", "see, and write readings, set-ups and trials"]]} onInput={setMay} />
          {problem && <Wrong problem={problem} />}
          <button type="submit" disabled={busy}>Share</button>
        </form>
      ))}
    </section>
  );
}

function Invitations() {
  const { account } = useAccount();
  const links = useGet<Rows<Link>>("/invitations");
  const [name, setName] = useState("");
  const allowed = roles.filter(([r]) => account?.role === "owner" || r === "viewer" || (account?.role === "coach" && r === "archer"));
  const [role, setRole] = useState<Exclude<Role, "">>(allowed[0]![0]);
  const [made, setMade] = useState<Link>();
  const { busy, problem, send } = useSend();
  const make = () => send(async () => {
    setMade(await put<Link>(`${api}/invitations/${uuidv7()}`, { name, role }));
    setName((now) => (now === name ? "" : now));
    links.again();
  });
  return (
    <section class="card">
      <h2>Invite someone</h2>
      <form onSubmit={(e) => { e.preventDefault(); void make(); }}>
        <Field label="Who it is for" value={name} onInput={setName} help="Only for your own list." error={problem?.at("name")} />
        <Choice label="As" value={role} options={allowed} onInput={setRole} />
        {problem && problem.fields.length === 0 && <Wrong problem={problem} />}
        <button type="submit" disabled={busy}>Make a link</button>
      </form>
      {made && <LinkShown link={made} />}
      <Answer of={links} what="Asking for open links…">
        {(l) => <>{l.rows.length > 0 && <h3>Links not used yet</h3>}<ul class="plain">{l.rows.map((x) => (
          <li key={x.id} class="row spread">
            <span>{x.name || "unnamed"}{x.role ? `, as ${x.role}` : ", for a new password"}, until {day(x.expires)}</span>
            <button type="button" class="quiet" disabled={busy} onClick={() => void send(async () => { await request("DELETE", `${api}/invitations/${x.id}`); links.again(); })}>Withdraw</button>
          </li>
        ))}</ul></>}
      </Answer>
    </section>
  );
}
