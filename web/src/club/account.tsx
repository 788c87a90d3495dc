import { useState } from "preact/hooks";
import { useAccount, type Account } from "../lib/account";
import { api, post, put, request } from "../lib/http";
import { waiting } from "../lib/outbox";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { Rows } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { Choice, Field, Note } from "../ui/field";
import { Answer, Wrong } from "../ui/states";
import { SecondFactor } from "./factor";
import { day, passwordHelp, passwordHelpWithFactor, useSend } from "./form";
import { Leave } from "./leave";
import { LogOut } from "./logout";
import { Places } from "./places";

interface Token { id: string; name: string; may: "read" | "work"; made: string; expires: string; secret?: string }

// AccountPage is one's own password, devices and tokens.
export function AccountPage() {
  useTitle("Your account");
  const { account, set } = useAccount();
  if (!account?.person) return <><p class="crumb"><a href="/settings">Settings</a></p><h1>Your account</h1><Note>This notebook has no accounts: it is one person's.</Note></>;
  const unsent = waiting().length;
  return (
    <>
      <p class="crumb"><a href="/settings">Settings</a></p>
      <h1>Your account</h1>
      <p>You are logged in as <strong>{account.login}</strong> ({account.role}).</p>
      {account.needs_second_factor && <Note kind="warn">{account.role === "owner" ? "You let others into this notebook, so your login" : "In this notebook every login"} needs a second factor before anything else goes on. It takes a minute.</Note>}
      {unsent > 0 && <Note kind="warn">{unsent} records on this device are not yet sent. They go out when you are logged in here again.</Note>}
      <LogOut />
      <Places />
      <SecondFactor />
      <PasswordForm done={set} />
      <Tokens />
      <Leave />
    </>
  );
}

function PasswordForm({ done }: { done: (a: Account) => void }) {
  const [form, setForm] = useState({ old: "", password: "" });
  const { account } = useAccount();
  const [changed, setChanged] = useState(false);
  const { busy, problem, send } = useSend();
  const save = () => send(async () => {
    done(await post<Account>(`${api}/account/password`, form));
    setForm({ old: "", password: "" });
    setChanged(true);
  });
  return (
    <form class="card" noValidate onSubmit={(e) => { e.preventDefault(); void save(); }}>
      <h2>Change the password</h2>
      <Field label="Present password" required value={form.old} onInput={(old) => setForm((f) => ({ ...f, old }))} secret="current-password" error={problem?.at("old")} />
      <Field label="New password" required value={form.password} onInput={(password) => setForm((f) => ({ ...f, password }))} secret="new-password" error={problem?.at("password")} help={account?.second_factor ? passwordHelpWithFactor : passwordHelp} />
      {problem && problem.fields.length === 0 && <Wrong problem={problem} />}
      {changed && <p role="status">Changed. Your other devices must log in anew.</p>}
      <button type="submit" disabled={busy || !form.old || !form.password}>{busy ? "Saving…" : "Change it"}</button>
    </form>
  );
}

// Tokens let a program of one's own in.
function Tokens() {
  const tokens = useGet<Rows<Token>>("/tokens");
  const [name, setName] = useState("");
  const [may, setMay] = useState<"read" | "work">("read");
  const [made, setMade] = useState<Token>();
  const { busy, problem, send } = useSend();
  const make = () => send(async () => {
    setMade(await put<Token>(`${api}/tokens/${uuidv7()}`, { name, may, days: 90 }));
    setName((now) => (now === name ? "" : now));
    tokens.again();
  });
  return (
    <section class="card">
      <h2>Tokens for programs</h2>
      <Answer of={tokens} what="Asking for your tokens…">
        {(t) => t.rows.length === 0 ? <p class="help">None. A token lets a program of yours read or write through the API.</p> : (
          <ul class="plain">{t.rows.map((x) => (
            <li key={x.id} class="row spread">
              <span>{x.name}: may {x.may}, until {day(x.expires)}</span>
              <button type="button" class="quiet" onClick={() => void send(async () => { await request("DELETE", `${api}/tokens/${x.id}`); tokens.again(); })}>Drop</button>
            </li>
          ))}</ul>
        )}
      </Answer>
      {made?.secret && <Note kind="warn"><p>Copy it now; it is shown once. Send it as <code>Authorization: Bearer</code>.</p><p class="code">{made.secret}</p></Note>}
      <form noValidate onSubmit={(e) => { e.preventDefault(); void make(); }}>
        <Field label="What for" required value={name} onInput={setName} error={problem?.at("name")} />
        <Choice label="It may" value={may} onInput={setMay} options={[["read", "read what I see"], ["work", "write as I do"]]} />
        {problem && problem.fields.length === 0 && <Wrong problem={problem} />}
        <button type="submit" disabled={busy || !name}>Make a token for 90 days</button>
      </form>
    </section>
  );
}
