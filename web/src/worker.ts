// The service worker keeps the pages themselves on the device, so that a reload
// without the notebook in reach still opens the forms and what was typed in
// them. It never keeps an answer of the API: old numbers must not look new.

interface Extendable extends Event { waitUntil(done: Promise<unknown>): void }
interface Fetching extends Extendable { readonly request: Request; respondWith(answer: Promise<Response>): void }

const shelf = "pages";
const list = "/parts.json"; // names every part of the program it comes from
const shell = ["/", "/app.css", "/microphone.js", "/heic.js", "/icon.svg", "/manifest.webmanifest", "/app.js"];
const part = /^\/part-[A-Z0-9]+\.(js|css|gz)$/;

// A new program is taken over whole or not at all: it goes on the shelf once
// all of its parts are here, and until then the one before it opens. A phone
// that leaves the network in between has a program that starts.
let renewing: Promise<void> | undefined;
let known: Promise<unknown> | undefined; // whether there is a newer program, or that it takes too long to know

// patience is how long the notebook may take where the page is held already: a
// phone with a network but far from the notebook waits a minute for nothing.
const patience = 3000;

function renew(): Promise<void> {
  if (renewing) return renewing;
  renewing = takeOver().finally(() => { renewing = undefined; });
  known = Promise.race([renewing.catch(() => undefined), new Promise((done) => { setTimeout(done, patience); })]);
  return renewing;
}

// takeOver asks what the notebook's program is now and takes what is new of
// it. Names of parts change with what is in them; app.js, which says what
// starts, is put down last. The parts of the program before stay, for pages of
// it that are still open.
async function takeOver(): Promise<void> {
  const held = await caches.open(shelf), before = await named(await held.match(list));
  const [parts, ...fresh] = await Promise.all([list, ...shell].map(ask));
  const now = await named(parts!.clone()), text = await fresh.at(-1)!.clone().text();
  const lacks = (text.match(/part-[A-Z0-9]+\.js/g) ?? []).find((name) => !now.includes(`/${name}`));
  if (lacks) throw new Error(`${lacks} is of another program than the list of parts`);
  await Promise.all(now.map(async (name) => { if (!(await held.match(name))) await held.put(name, await ask(name)); }));
  await held.put(list, parts!);
  for (const [i, name] of shell.entries()) await held.put(name, fresh[i]!);
  for (const { url } of await held.keys()) { const { pathname } = new URL(url); if (part.test(pathname) && !now.includes(pathname) && !before.includes(pathname)) await held.delete(pathname); }
}

const named = async (r: Response | undefined): Promise<string[]> => (r ? ((await r.json()) as string[]) : []);

// ask gets one file of the program; what a network puts in its place, such as
// the page on which one logs in to it, is of another kind.
async function ask(name: string): Promise<Response> {
  const r = await fetch(name, { cache: "no-cache" });
  if (!r.ok || r.redirected || !(r.headers.get("Content-Type") ?? "").startsWith(kindOf(name))) throw new Error(`${name} was answered ${r.status}`);
  return r;
}

function kindOf(name: string): string {
  if (name === "/") return "text/html";
  if (name.endsWith(".js")) return "text/javascript";
  if (name.endsWith(".gz")) return "application/gzip";
  return name.endsWith(".css") ? "text/css" : name === list ? "application/json" : "";
}

addEventListener("install", (e) => (e as Extendable).waitUntil(renew()));

// The page that brought the worker is served by it from now on.
// A page that was on its way at that moment asks for it.
const claim = (e: Event) => (e as Extendable).waitUntil((self as unknown as { clients: { claim(): Promise<void> } }).clients.claim());
addEventListener("activate", claim);
addEventListener("message", claim);

addEventListener("fetch", (e) => {
  const event = e as Fetching, { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin || request.method !== "GET") return;
  const page = request.mode === "navigate" && !/\.[a-z0-9]+$|^\/(api|trust)(\/|$)/i.test(url.pathname);
  if (page) event.waitUntil(renew().catch(() => undefined)); // out of reach: what is held stays
  if (page || part.test(url.pathname) || shell.includes(url.pathname)) event.respondWith(answer(request, page ? "/" : url.pathname));
});

// answer gives what is held, once it is known whether there is a newer one,
// so that a new program seldom meets old pages.
async function answer(request: Request, name: string): Promise<Response> {
  if (!part.test(name)) await known;
  return (await (await caches.open(shelf)).match(name)) ?? fetch(request);
}
