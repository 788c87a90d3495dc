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
  void navigator.serviceWorker.ready.then(keepParts);
  navigator.serviceWorker.register(url).catch((e: unknown) => console.warn("Tautline: pages are not kept on this device.", e));
}

// keepParts keeps the parts that were loaded before the worker stood ready:
// whoever opens the notebook for the first time and walks to the range has
// them there.
async function keepParts(): Promise<void> {
  const held = await caches.open("pages");
  const loaded = performance.getEntriesByType("resource").map((e) => new URL(e.name)).filter((u) => u.origin === location.origin && /^\/part-[A-Z0-9]+\.(js|css)$/.test(u.pathname));
  for (const { pathname } of loaded) if (!(await held.match(pathname))) await held.add(pathname).catch(() => undefined); // out of reach already: it comes when it is loaded again
}
