import { useEffect } from "preact/hooks";
import { useAccount } from "../lib/account";
import { api, request } from "../lib/http";
import { Wrong } from "../ui/states";
import { day } from "./form";
import { useSure } from "./sure";

// Places is where a person is logged in; each can be ended, as of a lost phone.
export function Places() {
  const { account, again } = useAccount();
  useEffect(again, []); // what a login answered does not know of itself yet
  const { busy, problem, run, asking } = useSure();
  const end = (id: string) => run(async () => { await request("DELETE", `${api}/account/sessions/${id}`); again(); });
  return (
    <section class="card">
      <h2>Where you are logged in</h2>
      <ul class="plain">{account?.sessions.map((s) => (
        <li key={s.id} class="row spread">
          <span><strong>{s.device}</strong>{s.here && " (this device)"}<br />since {day(s.began)}, last used {day(s.used)}</span>
          {!s.here && <button type="button" class="quiet" disabled={busy} aria-label={`End ${s.device}, since ${day(s.began)}`} onClick={() => void end(s.id)}>End it</button>}
        </li>
      ))}</ul>
      <p class="help">Unused for 14 days, a session ends by itself; after 90 in any case. What an ended phone still holds goes out when you log in on it again.</p>
      {asking}
      {problem && <Wrong problem={problem} />}
    </section>
  );
}
