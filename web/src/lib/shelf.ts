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
  void navigator.serviceWorker.ready.then((r) => { if (!navigator.serviceWorker.controller) r.active?.postMessage("claim"); });
  navigator.serviceWorker.register(url).catch((e: unknown) => console.warn("Tautline: pages are not kept on this device.", e));
}
