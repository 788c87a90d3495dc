import { useEffect, useState } from "preact/hooks";

// A small router on the History API: every page has an address that can be
// sent, and the back button works.

export function go(path: string): void {
  if (path === location.pathname + location.search) return;
  history.pushState(null, "", path);
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

// onLink lets plain <a href> links move inside the app.
export function onLink(event: MouseEvent): void {
  const link = (event.target as Element).closest("a");
  if (!link || event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
  if (link.origin !== location.origin || link.hasAttribute("download") || link.target || link.pathname.startsWith("/api/")) return;
  event.preventDefault();
  go(link.pathname + link.search);
}

// match gives the named parts of a path, or null: match("/bows/:id", path).
export function match(pattern: string, path: string): Record<string, string> | null {
  const want = pattern.split("/"), have = path.replace(/\/+$/, "").split("/");
  if (want.length !== have.length && !(pattern === "/" && path === "/")) return null;
  if (pattern === "/") return path === "/" ? {} : null;
  const found: Record<string, string> = {};
  for (let i = 0; i < want.length; i++) {
    const w = want[i]!, h = have[i]!;
    if (w.startsWith(":")) found[w.slice(1)] = decodeURIComponent(h);
    else if (w !== h) return null;
  }
  return found;
}
