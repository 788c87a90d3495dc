import { useEffect, useState } from "preact/hooks";

// A small router on the History API: every page has an address that can be
// sent, and the back button works.

export function go(path: string): void {
  if (path === location.pathname + location.search + location.hash) return;
  history.pushState(null, "", path);
  scrollTo(0, 0); // before the page follows: it may go to a place of its own
  dispatchEvent(new PopStateEvent("popstate"));
}

// replace goes to a page that takes the place of this one, so that the back
// button does not lead to a form that was sent.
export function replace(path: string): void {
  history.replaceState(null, "", path);
  dispatchEvent(new PopStateEvent("popstate"));
  scrollTo(0, 0);
}

export function usePath(): string {
  const [path, setPath] = useState(location.pathname);
  useEffect(() => {
    const follow = () => setPath(location.pathname);
    addEventListener("popstate", follow);
    return () => removeEventListener("popstate", follow);
  }, []);
  return path;
}

// onLink lets plain <a href> links move inside the app. Files (a sheet's PDF),
// and the API are the server's own.
export function onLink(event: MouseEvent): void {
  const link = (event.target as Element).closest("a");
  if (!link || event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  if (link.origin !== location.origin || link.hasAttribute("download") || link.target) return;
  if (/^\/api\/|\.[a-z0-9]+$/i.test(link.pathname)) return;
  if (link.hash && link.pathname === location.pathname && link.search === location.search) return; // a place on this page
  event.preventDefault();
  go(link.pathname + link.search + link.hash);
}

// match gives the named parts of a path, or null: match("/bows/:id", path).
export function match(pattern: string, path: string): Record<string, string> | null {
  if (pattern === "/") return path === "/" ? {} : null;
  const want = pattern.split("/"), have = path.replace(/\/+$/, "").split("/");
  if (want.length !== have.length) return null;
  const found: Record<string, string> = {};
  for (let i = 0; i < want.length; i++) {
    const w = want[i]!, h = have[i]!;
    if (w.startsWith(":")) found[w.slice(1)] = decoded(h);
    else if (w !== h) return null;
  }
  return found;
}

// decoded reads a part of an address; one typed wrong stays as it is.
function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

// useTitle names the page in the browser's tab and history.
export function useTitle(title: string | undefined): void {
  useEffect(() => {
    document.title = title ? `${title} · Tautline` : "Tautline";
  }, [title]);
}
