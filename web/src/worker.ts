// The service worker keeps the pages themselves on the device, so that a reload
// without the notebook in reach still opens the forms and what was typed in
// them. It never keeps an answer of the API: old numbers must not look new.

interface Extendable extends Event { waitUntil(done: Promise<unknown>): void }
interface Fetching extends Extendable { readonly request: Request; respondWith(answer: Promise<Response>): void }

const shelf = "pages";
const shell = ["/", "/app.js", "/app.css", "/microphone.js", "/icon.svg", "/manifest.webmanifest"];
const part = /^\/(app|part-[A-Z0-9]+)\.(js|css)$|^\/(microphone\.js|icon\.svg|manifest\.webmanifest)$/; // loaded when first needed, then kept

addEventListener("install", (e) => (e as Extendable).waitUntil(caches.open(shelf).then((c) => c.addAll(shell))));

// The page that brought the worker is served by it from now on, so that what
// it loads next is kept too.
// A page that was on its way at that moment asks for it.
const claim = (e: Event) => (e as Extendable).waitUntil((self as unknown as { clients: { claim(): Promise<void> } }).clients.claim());
addEventListener("activate", claim);
addEventListener("message", claim);

addEventListener("fetch", (e) => {
  const event = e as Fetching, { request } = event, url = new URL(request.url);
  const ours = url.origin === location.origin && request.method === "GET";
  const page = request.mode === "navigate" && !/\.[a-z0-9]+$|^\/(api|help|trust)(\/|$)/i.test(url.pathname);
  if (ours && (page || part.test(url.pathname))) event.respondWith(answer(request, page ? "/" : url.pathname));
});

// patience is how long the notebook may take where the page is held already: a
// phone with a network but far from the notebook waits a minute for nothing.
const patience = 3000;

// answer asks the notebook first, so that a new program seldom meets old
// pages. A part's name changes with what is in it: what is held is right.
async function answer(request: Request, name: string): Promise<Response> {
  const held = await caches.open(shelf), old = await held.match(name);
  if (old && name.startsWith("/part-")) return old;
  const fresh = fetch(request).then(async (r) => {
    if (r.ok && (name !== "/" || isPage(r))) await held.put(name, r.clone());
    return r;
  });
  if (!old) return fresh;
  const late = new Promise<Response>((done) => { setTimeout(() => done(old), patience); });
  return Promise.race([fresh.catch(() => old), late]);
}

const isPage = (r: Response): boolean => (r.headers.get("Content-Type") ?? "").startsWith("text/html");
