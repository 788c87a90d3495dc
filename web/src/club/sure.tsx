import { useState } from "preact/hooks";
import { useAccount } from "../lib/account";
import { api, post, Problem } from "../lib/http";
import { Field } from "../ui/field";
import { Wrong } from "../ui/states";
import { useSend } from "./form";

// useSure runs what asks for the password once more: what was wanted is done
// after the password was typed.
export function useSure() {
  const [wanted, setWanted] = useState<() => Promise<void>>();
  const sender = useSend();
  const run = (what: () => Promise<void>) => sender.send(async () => {
    try {
      await what();
    } catch (e) {
      if (!(e instanceof Problem) || e.code !== "say-again") throw e;
      setWanted(() => what);
    }
  });
  const asking = wanted && <SayAgain done={() => { setWanted(undefined); void run(wanted); }} leave={() => setWanted(undefined)} />;
  return { ...sender, run, asking };
}

function SayAgain({ done, leave }: { done: () => void; leave: () => void }) {
  const { account } = useAccount();
  const [password, setPassword] = useState("");
  const [code, setCode] = useState("");
  const { busy, problem, send } = useSend();
  return (
    <form class="card" noValidate onSubmit={(e) => { e.preventDefault(); void send(async () => { await post(`${api}/account/confirm`, { password, code }); done(); }); }}>
      <h3>Your password once more</h3>
      <Field label="Password" required value={password} onInput={setPassword} secret="current-password" error={problem?.at("password")} />
      {account?.second_factor && <Field label="Code of the second factor" required value={code} onInput={setCode} inputMode="numeric" autocomplete="one-time-code" error={problem?.at("code")} />}
      {problem && problem.fields.length === 0 && <Wrong problem={problem} />}
      <div class="row">
        <button type="submit" disabled={busy || !password}>{busy ? "One moment…" : "Go on"}</button>
        <button type="button" class="quiet" onClick={leave}>Leave it</button>
      </div>
    </form>
  );
}
