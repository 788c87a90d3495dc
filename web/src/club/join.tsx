import { useEffect, useState } from "preact/hooks";
import { useAccount, type Account } from "../lib/account";
import { api, post, Problem } from "../lib/http";
import { asProblem } from "../lib/load";
import { go, useTitle } from "../lib/route";
import { Field, Note } from "../ui/field";
import { Waits, Wrong } from "../ui/states";
import { codeAsked, passwordHelp, useSend } from "./form";

interface Link { id: string; used?: boolean; name?: string; role?: string; person?: string; expires: string }
interface Joined { account: Account; recovery_code: string }

// JoinPage lets someone in by a link. The secret stands after # and is taken
// out of the address at once, so that it stays in no history.
export function JoinPage() {
  useTitle("Come in");
  const [secret] = useState(() => location.hash.slice(1));
  const [link, setLink] = useState<Link>();
  const [problem, setProblem] = useState<Problem>();
  useEffect(() => {
    history.replaceState(null, "", "/join");
    post<Link>(`${api}/join/look`, { secret }).then(setLink, (e: unknown) => setProblem(asProblem(e)));
  }, []);
  if (problem) return <><h1>This link lets nobody in</h1><Wrong problem={problem} /></>;
  return link ? <JoinForm secret={secret} link={link} /> : <Waits what="Looking at the link…" />;
}

function JoinForm({ secret, link }: { secret: string; link: Link }) {
  const [form, setForm] = useState({ name: "", login: "", password: "" });
  const [joined, setJoined] = useState<Joined>();
  const { busy, problem, send } = useSend();
  const type = (key: keyof typeof form) => (v: string) => setForm((f) => ({ ...f, [key]: v }));
  const isNew = !link.person && !link.used;
  if (joined) return <Code joined={joined} />;
  return (
    <form class="narrow" noValidate onSubmit={(e) => { e.preventDefault(); void send(async () => setJoined(await post<Joined>(`${api}/join`, { secret, ...form }))); }}>
      <h1>{link.used ? "Go on where you were" : link.person ? "Choose a new password" : "Come in"}</h1>
      {link.used && <p>This link was used within the last hour. If that was you, and the answer did not reach you, type the login and password you chose then: you get a new code to print.</p>}
      {isNew && <p>You are invited as {link.role === "owner" ? "the owner of this notebook" : link.role}. Choose how you log in.</p>}
      {isNew && <Field label="Your name" required value={form.name} onInput={type("name")} autocomplete="name" error={problem?.at("name")} help="Stands behind everything you write down." />}
      <Field label="Login" required value={form.login} onInput={type("login")} autocomplete="username" error={problem?.at("login")} help="A short name, typed each time you log in." />
      <Field label="Password" required value={form.password} onInput={type("password")} secret={link.used ? "current-password" : "new-password"} error={problem?.at("password")} help={link.used ? undefined : passwordHelp} />
      {problem && problem.fields.length === 0 && <Wrong problem={problem} />}
      {problem?.offline && <LostAnswer />}
      <button class="main" type="submit" disabled={busy}>{busy ? "One moment…" : "Come in"}</button>
    </form>
  );
}

// LostAnswer says that the same form may be sent again.
const LostAnswer = () => <Note>It may have worked all the same. Leave what you typed as it is and press the button again: it happens once, and you go on from there.</Note>;

// Code shows the recovery code once, before the account is used.
function Code({ joined }: { joined: Joined }) {
  const { set } = useAccount();
  return (
    <section class="narrow">
      <h1>Write this code down</h1>
      <p>With it you replace a lost password. It is shown once, and nobody else has it.</p>
      <p class="code"><strong>{joined.recovery_code}</strong></p>
      <div class="row no-print">
        <button type="button" onClick={() => print()}>Print this page</button>
        <button type="button" class="main" onClick={() => { set(joined.account); go("/"); }}>I have it; to the bench</button>
      </div>
      <Note>Keep it where you keep your passport, not on this device.</Note>
    </section>
  );
}

// RecoverPage replaces a lost password by the printed code.
export function RecoverPage() {
  useTitle("Lost password");
  const [form, setForm] = useState({ login: "", code: "", password: "", second: "" });
  const [joined, setJoined] = useState<Joined>();
  const { busy, problem, send } = useSend();
  const type = (key: keyof typeof form) => (v: string) => setForm((f) => ({ ...f, [key]: v }));
  if (joined) return <Code joined={joined} />;
  return (
    <form class="narrow" noValidate onSubmit={(e) => { e.preventDefault(); void send(async () => setJoined(await post<Joined>(`${api}/recover`, form))); }}>
      <h1>Lost password</h1>
      <Field label="Login" required value={form.login} onInput={type("login")} autocomplete="username" error={problem?.at("login")} />
      <Field label="Printed code" required value={form.code} onInput={type("code")} error={problem?.at("code")} help="Capitals, spaces and dashes do not matter." />
      <Field label="New password" required value={form.password} onInput={type("password")} secret="new-password" error={problem?.at("password")} help={passwordHelp} />
      {(form.second !== "" || codeAsked(problem)) && <Field label="Code of your authenticator app" required value={form.second} onInput={type("second")} inputMode="numeric" autocomplete="one-time-code" help="Six digits; or one of the codes printed with it." />}
      {problem && problem.fields.length === 0 && !codeAsked(problem) && <Wrong problem={problem} />}
      {problem?.offline && <LostAnswer />}
      <button class="main" type="submit" disabled={busy}>{busy ? "One moment…" : "Set the new password"}</button>
      <p class="help">Without the code, ask the owner of the notebook for a new link.</p>
    </form>
  );
}
