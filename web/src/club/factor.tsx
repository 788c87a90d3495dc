import { useState } from "preact/hooks";
import { useAccount, type Account } from "../lib/account";
import { api, post, put, request } from "../lib/http";
import { Field, Note } from "../ui/field";
import { Wrong } from "../ui/states";
import { day } from "./form";
import { useSure } from "./sure";

interface Begun { secret: string; address: string; picture: string }
interface Kept { account: Account; codes: string[] }

// SecondFactor sets up, or takes off, the code that is asked for beside the
// password.
export function SecondFactor() {
  const { account, set } = useAccount();
  const [begun, setBegun] = useState<Begun>();
  const [kept, setKept] = useState<Kept>();
  const { busy, problem, run, asking } = useSure();
  if (kept) return <Printed kept={kept} done={() => { setKept(undefined); setBegun(undefined); set(kept.account); }} />;
  const begin = () => run(async () => setBegun(await post<Begun>(`${api}/account/second-factor`)));
  const drop = () => run(async () => set(await request<Account>("DELETE", `${api}/account/second-factor`)));
  return (
    <section class="card">
      <h2>Second factor</h2>
      {account?.second_factor
        ? <p>On: a code of your authenticator app is asked for at each login. Printed codes left: {account.printed_codes ?? 0}.</p>
        : <p>Off. With it, a stolen password alone lets nobody in: an authenticator app on your phone shows a new code every half minute. It needs no network and no e-mail.</p>}
      {!account?.second_factor && account?.second_factor_due && !account.needs_second_factor &&
        <Note>You let others in here, so it will be needed from {day(account.second_factor_due)} on, once somebody else has a login.</Note>}
      {begun ? <Begin of={begun} kept={setKept} /> : asking ?? (
        <div class="row">
          <button type="button" disabled={busy} onClick={() => void begin()}>{account?.second_factor ? "Set it up anew" : "Set it up"}</button>
          {account?.second_factor && account.role !== "owner" && <button type="button" class="quiet" disabled={busy} onClick={() => void drop()}>Turn it off</button>}
        </div>
      )}
      {problem && <Wrong problem={problem} />}
    </section>
  );
}

function Begin({ of, kept }: { of: Begun; kept: (k: Kept) => void }) {
  const [code, setCode] = useState("");
  const { busy, problem, run, asking } = useSure();
  const keep = () => run(async () => kept(await put<Kept>(`${api}/account/second-factor`, { code })));
  if (asking) return asking;
  return (
    <form noValidate onSubmit={(e) => { e.preventDefault(); void keep(); }}>
      <ol>
        <li>Scan this with an authenticator app. On this phone itself: <a href={of.address}>open it in the app</a>.</li>
        <li>Or type this into the app: <span class="code">{of.secret.match(/.{1,4}/g)!.join(" ")}</span></li>
      </ol>
      <img class="scan" src={of.picture} alt="QR code for an authenticator app" width="240" height="240" />
      <Field label="The code it shows now" required value={code} onInput={setCode} inputMode="numeric" autocomplete="one-time-code" error={problem?.at("code")} />
      {problem && problem.fields.length === 0 && <Wrong problem={problem} />}
      <button type="submit" disabled={busy || !code}>{busy ? "One moment…" : "Turn it on"}</button>
    </form>
  );
}

function Printed({ kept, done }: { kept: Kept; done: () => void }) {
  return (
    <section class="card">
      <h2>Print these codes</h2>
      <p>Each stands in for the app once, when the phone is lost or flat. They are shown only now.</p>
      <ul class="plain code">{kept.codes.map((c) => <li key={c}>{c}</li>)}</ul>
      <div class="row no-print">
        <button type="button" onClick={() => print()}>Print this page</button>
        <button type="button" class="main" onClick={done}>I have them</button>
      </div>
    </section>
  );
}
