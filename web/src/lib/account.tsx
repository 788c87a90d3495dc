import { createContext, type ComponentChildren } from "preact";
import { useContext, useEffect, useState } from "preact/hooks";
import { draftKey, keepDraft, readDraft } from "./draft";
import { api, get, Problem } from "./http";
import { watchKept } from "./kept";
import { forgetSent, holdSending, sendingHeld, writesAs } from "./outbox";
import { forgetSeen, seesAs } from "./seen";

// Who is logged in, in a notebook of several people. One person's own notebook
// has no accounts, and nothing of this shows.

export interface Account { accounts: boolean; person?: string; login?: string; role?: Role; second_factor?: boolean; printed_codes?: number; needs_second_factor?: boolean; second_factor_due?: string; sessions: Place[] }

// Place is where a person is logged in.
export interface Place { id: string; device: string; began: string; used: string; expires: string; here?: boolean }
export type Role = "" | "owner" | "coach" | "archer" | "viewer";

const lastKey = "account:last";
let who: string | undefined; // on this device, in this visit

// Held is who is here; a problem is why that is not known.
interface Held { account?: Account; problem?: Problem; set: (a: Account) => void; again: () => void }
const Who = createContext<Held>({ set: () => undefined, again: () => undefined });

export function AccountProvider({ children }: { children: ComponentChildren }) {
  const [account, setAccount] = useState<Account>();
  const [problem, setProblem] = useState<Problem>();
  const set = (a: Account) => {
    const before = who ?? readDraft<Account>(lastKey)?.person ?? ""; // a session may have ended while no page was open
    if (before !== (a.person ?? "")) { forgetSeen(); forgetSent(); }
    who = a.person ?? "";
    seesAs(who);
    writesAs(who, a.accounts);
    setAccount(a);
    setProblem(undefined);
    keepDraft(lastKey, a);
  };
  const [turn, setTurn] = useState(0);
  const again = () => setTurn((n) => n + 1);
  useEffect(() => {
    let timer = 0, gone = false;
    void get<Account>(`${api}/account`).then(set, (e) => {
      if (gone || !(e instanceof Problem)) return;
      setProblem(e);
      if (!e.offline && !sendingHeld()) return;
      const last = readDraft<Account>(lastKey); // out of reach: who it was
      if (last && e.status === 0 && !sendingHeld()) set(last);
      const look = () => { timer = setTimeout(() => (document.hidden ? look() : again()), 5000); };
      look();
    });
    return () => { gone = true; clearTimeout(timer); };
  }, [turn]);
  useEffect(() => {
    addEventListener("loggedout", again);
    return () => removeEventListener("loggedout", again);
  }, []);
  // Another tab logged in or out: what this one sends goes under that login.
  useEffect(() => watchKept((keys, elsewhere) => {
    if (!elsewhere || who === undefined || !keys.includes(draftKey(lastKey)) || (readDraft<Account>(lastKey)?.person ?? "") === who) return;
    holdSending();
    again();
  }), []);
  return <Who.Provider value={{ account, problem: account ? undefined : problem, set, again }}>{children}</Who.Provider>;
}

export const useAccount = (): Held => useContext(Who);
