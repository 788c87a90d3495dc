import { createContext, type ComponentChildren } from "preact";
import { useContext, useEffect, useState } from "preact/hooks";
import { useAccount } from "./account";
import { api, get, Problem } from "./http";
import { keepSeen, seen } from "./seen";
import type { Me, Theme } from "./types";

// Who reads, in which units and colours. The theme is kept on the device too,
// so that a page in the sun does not first flash in the dark.

// Held is who reads; a problem is why that is not known.
interface Held { me: Me | null; problem?: Problem; again: () => void; set: (me: Me) => void }
const Whose = createContext<Held>({ me: null, again: () => undefined, set: () => undefined });
const themeKey = "theme";

export function MeProvider({ children }: { children: ComponentChildren }) {
  const [me, setMe] = useState<Me | null>(null);
  const [problem, setProblem] = useState<Problem>();
  const [turn, setTurn] = useState(0);
  const { account, problem: unknown, again: ask } = useAccount();
  const set = (next: Me) => { setMe(next); setProblem(undefined); applyTheme(next.person.theme ?? ""); };
  useEffect(() => {
    let timer = 0, gone = false;
    const load = () => void get<Me>(`${api}/me`).then((m) => { set(m); keepSeen("/me", m); }, async (e) => {
      if (!(e instanceof Problem)) return;
      const last = e.offline ? await seen<Me>("/me") : undefined;
      if (gone) return;
      if (!last) setProblem(e);
      if (!e.offline) return;
      if (last) setMe((now) => { if (!now) applyTheme(last.value.person.theme ?? ""); return now ?? last.value; });
      const look = () => { timer = setTimeout(() => (document.hidden ? look() : load()), 5000); };
      look();
    });
    if (!account || account.accounts && !account.person) return;
    load();
    return () => { gone = true; clearTimeout(timer); };
  }, [account?.person, !account, turn]);
  const again = () => (account ? setTurn((n) => n + 1) : ask());
  return <Whose.Provider value={{ me, problem: me ? undefined : problem ?? unknown, again, set }}>{children}</Whose.Provider>;
}

// useMe gives the person, null until the notebook has answered.
export const useMe = (): Held => useContext(Whose);

// useComma tells whether this person writes 22,5.
export const useComma = (): boolean => useMe().me?.person.decimal_comma ?? false;

// applyTheme puts on the colours; "" follows the device.
export function applyTheme(theme: Theme): void {
  if (theme) document.documentElement.dataset.theme = theme;
  else delete document.documentElement.dataset.theme;
  try {
    localStorage.setItem(themeKey, theme);
  } catch {
    return; // the next page load begins with the device's colours
  }
  dispatchEvent(new Event("themechange"));
}

// earlyTheme puts on what this device wore last, before the notebook answers.
export function earlyTheme(): void {
  try {
    const theme = localStorage.getItem(themeKey);
    if (theme === "light" || theme === "dark" || theme === "sun") document.documentElement.dataset.theme = theme;
  } catch {
    return;
  }
}
