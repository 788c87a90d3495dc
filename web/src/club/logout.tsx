import { useState } from "preact/hooks";
import { useAccount } from "../lib/account";
import { api, post } from "../lib/http";
import { clearHere, heldHere, inWords, nothing, type HeldHere } from "../lib/leaving";
import { flush } from "../lib/outbox";
import { go } from "../lib/route";
import { Note } from "../ui/field";
import { Wrong } from "../ui/states";
import { useSend } from "./form";

type Door = "/logout" | "/logout-everywhere";

// LogOut ends the session. What this device holds of the notebook goes with it;
// what is nowhere else only after the person has said so.
export function LogOut() {
  const { again } = useAccount();
  const { busy, problem, send } = useSend();
  const [asked, ask] = useState<{ door: Door; held: HeldHere }>();
  const leave = async (door: Door, clear: boolean) => {
    await post(`${api}${door}`);
    if (clear) await clearHere();
    ask(undefined);
    again();
    go("/");
  };
  const begin = (door: Door) => send(async () => {
    await flush();
    const held = await heldHere();
    if (nothing(held)) return leave(door, true);
    ask({ door, held });
  });
  return (
    <>
      <div class="row">
        <button type="button" disabled={busy} onClick={() => void begin("/logout")}>Log out</button>
        <button type="button" class="quiet" disabled={busy} onClick={() => void begin("/logout-everywhere")}>Log out everywhere, and drop all tokens</button>
      </div>
      {asked && (
        <section class="card" aria-label="Before you log out">
          <h2>Before you log out</h2>
          <Note kind="warn">
            <p>On this device, and nowhere else: {inWords(asked.held)}. <a href="/unsent">Not yet sent</a> shows what waits.</p>
            <p>Kept here, it goes out when you log in on this device again; until then whoever uses this browser may find it.</p>
          </Note>
          <div class="row">
            <button type="button" disabled={busy} onClick={() => void send(() => leave(asked.door, false))}>Log out and keep it here</button>
            <button type="button" class="danger" disabled={busy} onClick={() => void send(() => leave(asked.door, true))}>Log out and delete it</button>
            <button type="button" class="quiet" onClick={() => ask(undefined)}>Stay</button>
          </div>
        </section>
      )}
      {problem && <Wrong problem={problem} />}
    </>
  );
}
