// The pages may ask for one script beside themselves: the service worker. The
// server's policy of trusted types lets "tautline" alone name it.

interface Types { createPolicy(name: string, rules: { createScriptURL: (url: string) => string }): { createScriptURL(url: string): unknown } }

// keepPages lets the browser keep the pages for when the notebook is out of
// reach. Browsers do so only on this machine or over https.
export function keepPages(): void {
  if (!("serviceWorker" in navigator)) return;
  const types = (window as unknown as { trustedTypes?: Types }).trustedTypes;
  const policy = types?.createPolicy("tautline", { createScriptURL: (url) => (url === "/worker.js" ? url : "") });
  const url = (policy?.createScriptURL("/worker.js") ?? "/worker.js") as string;
  void navigator.serviceWorker.ready.then((r) => {
    if (!navigator.serviceWorker.controller) r.active?.postMessage("claim");
    return keepParts();
  });
  navigator.serviceWorker.register(url).catch((e: unknown) => console.warn("Tautline: pages are not kept on this device.", e));
}

// keepParts keeps every part of the pages, opened before or not: whoever opens
// the notebook once and walks to the range has all of it there. Parts of older
// programs go.
async function keepParts(): Promise<void> {
  const held = await caches.open("pages");
  const list = await fetch("/parts.json").then((r) => (r.ok ? (r.json() as Promise<string[]>) : [])).catch(() => [] as string[]);
  if (list.length === 0) return; // out of reach: what is held stays
  for (const name of list) if (!(await held.match(name))) await held.add(name).catch(() => undefined); // it comes when it is loaded
  for (const { url } of await held.keys()) { const { pathname } = new URL(url); if (pathname.startsWith("/part-") && !list.includes(pathname)) await held.delete(pathname); }
}
