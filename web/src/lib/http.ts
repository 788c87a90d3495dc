// Talking to the server: JSON in and out, problems as RFC 9457 says. Records
// go through outbox.ts, which keeps what could not be sent.

import { fromNotebook, isFinal, mayWork, problemKind, stopsWriting } from "./answers";
import { reached, takesNothing } from "./link";

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
    readonly kind: string = problemKind, // the answer's media type
  ) {
    super(detail || title);
  }
  get code(): string { return (this.body as { code?: string } | undefined)?.code ?? ""; }
  // offline says that the same question may be answered later.
  get offline(): boolean { return mayWork(this.status, this.kind); }
  // final says that what was sent would be refused again.
  get final(): boolean { return isFinal(this.status, this.kind, this.code); }

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

const isTimeout = (signal: AbortSignal): boolean => (signal.reason as { name?: string } | undefined)?.name === "TimeoutError";

// problemOf is what an answer that is no good says, or that it came from
// elsewhere; it notes whether the notebook answers and takes what is sent.
export function problemOf(status: number, words: string, kind: string, body: any): Problem {
  const ours = fromNotebook(status < 300, kind);
  const p = status >= 300 && ours
    ? new Problem(status, body?.title ?? words, body?.detail ?? "", body?.hint ?? "", body?.errors ?? [], body, kind)
    : new Problem(status, "An answer from elsewhere", "Something between this device and the notebook answered instead of it: a network that wants a login first, or a proxy. What you typed is kept on this device.", "Log in to the network, or use another, then try once more.", [], undefined, kind);
  reached(ours && (status < 502 || stopsWriting(p.code)));
  if (stopsWriting(p.code)) takesNothing(p.code, p.message, p.hint);
  return p;
}

export const toProblem = async (res: Response): Promise<Problem> => problemOf(res.status, res.statusText, kindOf(res), await res.json().catch(() => undefined));

const kindOf = (res: Response): string => res.headers.get("Content-Type") ?? "";

export async function request<T>(method: string, path: string, body?: unknown, headers: Record<string, string> = {}, signal?: AbortSignal): Promise<T> {
  const res = await answered(method, path, body, headers, signal);
  return res.status === 204 ? (undefined as T) : whole<T>(res, signal);
}

// whole reads an answer to its end: one that broke off says as little as none.
const whole = <T>(res: Response, signal?: AbortSignal): Promise<T> => res.json().catch((e: unknown) => { throw unanswered(e, signal); }) as Promise<T>;

// unanswered is why nothing came: who asked gave up, or the notebook is away.
function unanswered(e: unknown, signal?: AbortSignal): unknown {
  if (signal?.aborted && !isTimeout(signal)) return e;
  reached(false);
  return new Problem(0, "No answer", "The notebook does not answer. What you typed is kept on this device.", "Check that Tautline still runs and that this device reaches it, then try once more.", []);
}

// create sends a record and tells whether the notebook did not have it before;
// undefined: what came is no word of the notebook's.
export async function create(path: string, body: unknown, signal: AbortSignal): Promise<boolean | undefined> {
  const res = await answered("PUT", path, body, {}, signal);
  if (res.status === 204 || (await whole(res, signal)) === undefined) return undefined; // the whole answer is here, or the record is sent again
  return res.status === 201;
}

// answered gives an answer that is no problem.
async function answered(method: string, path: string, body: unknown, headers: Record<string, string>, signal?: AbortSignal): Promise<Response> {
  let res: Response;
  try {
    res = await fetch(path, {
      method,
      headers: body === undefined || body instanceof Blob ? headers : { "Content-Type": "application/json", ...headers },
      body: body === undefined || body instanceof Blob ? body : JSON.stringify(body), // a file brings its own type
      signal: signal ?? null,
    });
  } catch (e) {
    throw unanswered(e, signal);
  }
  if (res.status === 401) dispatchEvent(new Event("loggedout"));
  if (!res.ok || (res.status !== 204 && !fromNotebook(true, kindOf(res)))) throw await toProblem(res);
  reached(true);
  if (method === "PUT") takesNothing("");
  return res;
}

export const get = <T>(path: string, signal?: AbortSignal) => request<T>("GET", path, undefined, {}, signal);
export const post = <T>(path: string, body: unknown = {}, signal?: AbortSignal) => request<T>("POST", path, body, {}, signal);
export const put = <T>(path: string, body: unknown, headers?: Record<string, string>, signal?: AbortSignal) => request<T>("PUT", path, body, headers, signal);
