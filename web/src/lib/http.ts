// Talking to the server: JSON in and out, problems as RFC 9457 says, and an
// outbox for records that could not be sent.

export interface FieldProblem { field: string; code?: string; message: string; hint?: string }

// api is where every route begins.
export const api = "/api/v1";

export class Problem extends Error {
  constructor(
    readonly status: number, // 0: no answer at all
    readonly title: string,
    readonly detail: string,
    readonly hint: string,
    readonly fields: FieldProblem[],
    readonly body: unknown = undefined,
  ) {
    super(detail || title);
  }
  // offline says that the same may work later: no answer, not logged in, too
  // fast, or a server that is being started.
  get offline(): boolean { return this.status === 0 || this.status === 401 || this.status === 429 || this.status >= 502; }

  // at gives what is wrong with a field, by the end of its JSON pointer.
  at(field: string): string | undefined {
    const found = this.fields.find((f) => pointer(f.field) === pointer(field));
    return found && sentence(found);
  }
}

// told is a problem in one line, for the side of a page.
export const told = (p: Problem): string => (p.fields.length > 0 ? p.fields.map(sentence).join(" ") : [p.message, p.hint].filter(Boolean).join(" "));

const pointer = (field: string) => "/" + field.replace(/^[/.]+/, "").replaceAll(".", "/");

// sentence puts a field's error and what to try into one line.
export function sentence(f: FieldProblem): string {
  const start = f.message.charAt(0).toUpperCase() + f.message.slice(1);
  const end = /[.?!]$/.test(start) ? start : start + ".";
  if (!f.hint) return end;
  const hint = f.hint.charAt(0).toUpperCase() + f.hint.slice(1);
  return `${end} ${hint}${/[.?!]$/.test(hint) ? "" : "."}`;
}

async function toProblem(res: Response): Promise<Problem> {
  const body: any = await res.json().catch(() => ({}));
  return new Problem(res.status, body.title ?? res.statusText, body.detail ?? "", body.hint ?? "", body.errors ?? [], body);
}

export async function request<T>(method: string, path: string, body?: unknown, headers: Record<string, string> = {}, signal?: AbortSignal): Promise<T> {
  let res: Response;
  try {
    res = await fetch(path, {
      method,
      headers: body === undefined || body instanceof Blob ? headers : { "Content-Type": "application/json", ...headers },
      body: body === undefined || body instanceof Blob ? body : JSON.stringify(body), // a file brings its own type
      signal: signal ?? null,
    });
  } catch (e) {
    if (signal?.aborted) throw e;
    throw new Problem(0, "No answer", "The notebook does not answer. What you typed is kept on this device.", "Check that Tautline still runs and that this device reaches it, then try once more.", []);
  }
  if (res.status === 401) dispatchEvent(new Event("loggedout"));
  if (!res.ok) throw await toProblem(res);
  return res.status === 204 ? (undefined as T) : ((await res.json()) as T);
}

export const get = <T>(path: string, signal?: AbortSignal) => request<T>("GET", path, undefined, {}, signal);
export const post = <T>(path: string, body: unknown = {}, signal?: AbortSignal) => request<T>("POST", path, body, {}, signal);
export const put = <T>(path: string, body: unknown, headers?: Record<string, string>) => request<T>("PUT", path, body, headers);

// The outbox keeps records in order until the server has them. A record's
// address holds its own id, so sending it twice is harmless.
export interface Waiting { path: string; body: unknown; by?: string }
const outboxKey = "outbox";
const watchers = new Set<(n: number) => void>();

// In a notebook of several people a record goes out only while its writer is
// logged in on this device, whoever uses it in between.
let writer = "";
export function writesAs(person: string): void {
  writer = person;
  if (person) void flush();
}

const load = (): Waiting[] => list<Waiting>(outboxKey);

function list<T>(key: string): T[] {
  try {
    const read: unknown = JSON.parse(localStorage.getItem(key) ?? "[]");
    return Array.isArray(read) ? (read as T[]) : [];
  } catch {
    return [];
  }
}

function save(list: Waiting[]): void {
  localStorage.setItem(outboxKey, JSON.stringify(list));
  tell();
}

// What waits apart from this list, since it is too large for it: recordings.
let apart = 0;
const senders: (() => void)[] = [];
export function setApart(n: number): void {
  if (n === apart) return;
  apart = n;
  tell();
}

// alsoSends has something else sent whenever the outbox is tried.
export const alsoSends = (send: () => void): void => { senders.push(send); send(); };

const count = () => load().length + apart;
const tell = () => watchers.forEach((w) => w(count()));

// waiting and refused are what stands between this device and the notebook.
export const waiting = load;
export const refused = (): Refused[] => list<Refused>(refusedKey);

// A record that the notebook refused, with the reason, kept until it is
// entered anew or thrown away by hand.
export interface Refused extends Waiting { why: string; at: string }
const refusedKey = "refused";

export function dropRefused(at: number): void {
  localStorage.setItem(refusedKey, JSON.stringify(refused().filter((_, i) => i !== at)));
  tell();
}

export function watchOutbox(watch: (n: number) => void): () => void {
  watchers.add(watch);
  watch(count());
  return () => { watchers.delete(watch); };
}

// record sends a record now, or keeps it for later when there is no answer.
// It resolves to "sent" or "kept"; a refusal is thrown as a Problem.
export async function record(path: string, body: unknown): Promise<"sent" | "kept"> {
  if (load().length > 0) await flush();
  try {
    if (load().length > 0) throw new Problem(0, "", "", "", []);
    await put(path, body);
    return "sent";
  } catch (e) {
    if (!(e instanceof Problem) || !e.offline) throw e;
    save([...load(), { path, body, by: writer || undefined }]);
    return "kept";
  }
}

// queue keeps a record for sending and returns at once: the page goes on while
// the outbox empties in order. A refusal is put aside with its reason.
export function queue(path: string, body: unknown): void {
  save([...load(), { path, body, by: writer || undefined }]);
  void flush();
}

// withdraw takes a record back out of the outbox; false when it has gone out.
export function withdraw(path: string): boolean {
  const list = load(), left = list.filter((w) => w.path !== path);
  if (left.length < list.length) save(left);
  return left.length < list.length;
}

let flushing = false;

// flush sends what waits, oldest first; it stops at the first that gets no
// answer. A record that the server refuses stays out of the way of the rest
// and is reported.
export async function flush(aside: (w: Waiting, p: Problem) => void = keepRefused): Promise<void> {
  if (flushing) return;
  flushing = true;
  try {
    for (let list = load(); list.length > 0; list = load()) {
      const first = list[0]!;
      if (first.by && first.by !== writer) return;
      try {
        await put(first.path, first.body);
      } catch (e) {
        if (!(e instanceof Problem) || e.offline) return;
        aside(first, e);
      }
      save(load().filter((w) => w.path !== first.path)); // by name: another tab may send too
    }
  } finally {
    flushing = false;
  }
}

// keepRefused puts a refused record aside where nothing overwrites it.
function keepRefused(w: Waiting, p: Problem): void {
  const why = p.fields.length > 0 ? p.fields.map(sentence).join(" ") : p.message;
  localStorage.setItem(refusedKey, JSON.stringify([...refused(), { ...w, why, at: new Date().toISOString() }]));
}

export function keepFlushing(): void {
  const try_ = () => { void flush(); senders.forEach((s) => s()); };
  addEventListener("online", try_);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) try_(); });
  addEventListener("storage", (e) => { if (e.key === outboxKey || e.key === refusedKey) tell(); });
  setInterval(try_, 30_000);
  try_();
}
