// Talking to the server: JSON in and out, problems as RFC 9457 says, and an
// outbox for records that could not be sent.

export interface FieldProblem { location?: string; field?: string; message: string; hint?: string }

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
  get offline(): boolean { return this.status === 0 || this.status >= 502; }
}

async function toProblem(res: Response): Promise<Problem> {
  const body: any = await res.json().catch(() => ({}));
  return new Problem(res.status, body.title ?? res.statusText, body.detail ?? "", body.hint ?? "", body.errors ?? [], body);
}

export async function request<T>(method: string, path: string, body?: unknown, headers: Record<string, string> = {}): Promise<T> {
  let res: Response;
  try {
    res = await fetch(path, {
      method,
      headers: body === undefined ? headers : { "Content-Type": "application/json", ...headers },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  } catch {
    throw new Problem(0, "No answer", "The notebook does not answer. What you typed is kept on this device.", "Check that Tautline still runs; it is sent again by itself.", []);
  }
  if (!res.ok) throw await toProblem(res);
  return res.status === 204 ? (undefined as T) : ((await res.json()) as T);
}

export const get = <T>(path: string) => request<T>("GET", path);
export const post = <T>(path: string, body: unknown = {}) => request<T>("POST", path, body);
export const put = <T>(path: string, body: unknown, headers?: Record<string, string>) => request<T>("PUT", path, body, headers);

// The outbox keeps records in order until the server has them. A record's
// address holds its own id, so sending it twice is harmless.
interface Waiting { path: string; body: unknown }
const outboxKey = "outbox";
const watchers = new Set<(n: number) => void>();

function load(): Waiting[] {
  try {
    return JSON.parse(localStorage.getItem(outboxKey) ?? "[]") as Waiting[];
  } catch {
    return [];
  }
}

function save(list: Waiting[]): void {
  localStorage.setItem(outboxKey, JSON.stringify(list));
  watchers.forEach((w) => w(list.length));
}

export function watchOutbox(watch: (n: number) => void): () => void {
  watchers.add(watch);
  watch(load().length);
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
    save([...load(), { path, body }]);
    return "kept";
  }
}

let flushing = false;

// flush sends what waits, oldest first; it stops at the first that gets no
// answer. A record that the server refuses stays out of the way of the rest
// and is reported.
export async function flush(refused: (w: Waiting, p: Problem) => void = keepRefused): Promise<void> {
  if (flushing) return;
  flushing = true;
  try {
    for (let list = load(); list.length > 0; list = load()) {
      const first = list[0]!;
      try {
        await put(first.path, first.body);
      } catch (e) {
        if (!(e instanceof Problem) || e.offline) return;
        refused(first, e);
      }
      save(load().slice(1));
    }
  } finally {
    flushing = false;
  }
}

// keepRefused puts a refused record aside where nothing overwrites it.
function keepRefused(w: Waiting, p: Problem): void {
  const key = "refused";
  const list = JSON.parse(localStorage.getItem(key) ?? "[]") as unknown[];
  localStorage.setItem(key, JSON.stringify([...list, { ...w, why: p.message, at: new Date().toISOString() }]));
}

export function keepFlushing(): void {
  const try_ = () => { void flush(); };
  addEventListener("online", try_);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) try_(); });
  setInterval(try_, 30_000);
  try_();
}
