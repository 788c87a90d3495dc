import { useEffect, useState } from "preact/hooks";

// What a page was asked, kept in its address: a what-if can be sent, comes
// back with the back button and survives a reload.

export type Query = Record<string, string>;

const read = (): Query => Object.fromEntries(new URLSearchParams(location.search));

// useAddress follows the whole query; set writes it without leaving a step for
// the back button behind.
export function useAddress(): [Query, (next: Query) => void] {
  const [query, setQuery] = useState(read);
  useEffect(() => {
    const follow = () => setQuery(read());
    addEventListener("popstate", follow);
    return () => removeEventListener("popstate", follow);
  }, []);
  const set = (next: Query) => {
    const kept = new URLSearchParams(Object.entries(next).filter(([, v]) => v.trim() !== "")).toString();
    setQuery(next);
    write(location.pathname + (kept && `?${kept}`));
  };
  return [query, set];
}

// Browsers refuse more than some hundred changes of the address in half a
// minute; a slider makes more.
let timer = 0, wanted = "";
function write(path: string): void {
  wanted = path;
  if (timer) return;
  timer = setTimeout(() => {
    timer = 0;
    if (wanted.split("?")[0] === location.pathname) history.replaceState(null, "", wanted);
  }, 300);
}
