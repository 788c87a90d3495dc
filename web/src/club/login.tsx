import { useState } from "preact/hooks";
import { useAccount, type Account } from "../lib/account";
import { api, post } from "../lib/http";
import { useTitle } from "../lib/route";
import { Field } from "../ui/field";
import { Wrong } from "../ui/states";
import { codeAsked, useSend } from "./form";

// LoginPage stands in place of any page until it is known who asks; the
// address stays, so that a link leads on after logging in.
export function LoginPage() {
  useTitle("Log in");
  const { set } = useAccount();
  const [login, setLogin] = useState("");
  const [password, setPassword] = useState("");
  const [code, setCode] = useState("");
  const { busy, problem, send } = useSend();
  const asked = code !== "" || codeAsked(problem);
  return (
    <form class="narrow" onSubmit={(e) => { e.preventDefault(); void send(async () => set(await post<Account>(`${api}/login`, { login, password, code }))); }}>
      <h1>Log in</h1>
      <p>This notebook belongs to several people. What you typed on this device is kept until you are in.</p>
      <Field label="Login" required value={login} onInput={setLogin} autocomplete="username" name="login" />
      <Field label="Password" required value={password} onInput={setPassword} secret="current-password" name="password" />
      {asked && <Field label="Code of your authenticator app" required value={code} onInput={setCode} inputMode="numeric" autocomplete="one-time-code" name="code" help="Six digits; or one of the codes you printed." />}
      {problem && !codeAsked(problem) && <Wrong problem={problem} />}
      <button class="main" type="submit" disabled={busy || !login || !password}>{busy ? "Logging in…" : "Log in"}</button>
      <p><a href="/recover">I lost the password and have the printed code</a></p>
      <p class="help">New here? Someone of this club can send you a link.</p>
    </form>
  );
}
