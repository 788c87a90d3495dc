import { scriptURL } from "./scripts";

// keepPages lets the browser keep the pages for when the notebook is out of
// reach. Browsers do so only on this machine or over https.
export function keepPages(): void {
  if (!("serviceWorker" in navigator)) return;
  void navigator.serviceWorker.ready.then((r) => { if (!navigator.serviceWorker.controller) r.active?.postMessage("claim"); });
  navigator.serviceWorker.register(scriptURL("/worker.js")).catch((e: unknown) => console.warn("Tautline: pages are not kept on this device.", e));
}
