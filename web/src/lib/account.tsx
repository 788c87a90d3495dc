import { createContext, type ComponentChildren } from "preact";
import { useContext, useEffect, useState } from "preact/hooks";
import { api, get, Problem, writesAs } from "./http";

// Who is logged in, in a notebook of several people. One person's own notebook
// has no accounts, and nothing of this shows.

export interface Account { accounts: boolean; person?: string; login?: string; role?: Role; sessions: { began: string; expires: string }[] }
export type Role = "" | "owner" | "coach" | "archer" | "viewer";

interface Held { account?: Account; set: (a: Account) => void; again: () => void }
const Who = createContext<Held>({ set: () => undefined, again: () => undefined });

export function AccountProvider({ children }: { children: ComponentChildren }) {
  const [account, setAccount] = useState<Account>();
  const set = (a: Account) => { writesAs(a.person ?? ""); setAccount(a); };
  const [turn, setTurn] = useState(0);
  const again = () => setTurn((n) => n + 1);
  useEffect(() => {
    let timer = 0;
    void get<Account>(`${api}/account`).then(set, (e) => { if (e instanceof Problem && e.offline) timer = setTimeout(again, 3000); });
    return () => clearTimeout(timer);
  }, [turn]);
  useEffect(() => {
    addEventListener("loggedout", again);
    return () => removeEventListener("loggedout", again);
  }, []);
  return <Who.Provider value={{ account, set, again }}>{children}</Who.Provider>;
}

export const useAccount = (): Held => useContext(Who);
