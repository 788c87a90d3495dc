// Talking to the server: JSON in and out, problems as RFC 9457 says. Records
// go through outbox.ts, which keeps what could not be sent.

import { reached } from "./link";

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

const isTimeout = (signal: AbortSignal): boolean => (signal.reason as { name?: string } | undefined)?.name === "TimeoutError";

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
    if (signal?.aborted && !isTimeout(signal)) throw e;
    reached(false);
    throw new Problem(0, "No answer", "The notebook does not answer. What you typed is kept on this device.", "Check that Tautline still runs and that this device reaches it, then try once more.", []);
  }
  reached(res.status < 502);
  if (res.status === 401) dispatchEvent(new Event("loggedout"));
  if (!res.ok) throw await toProblem(res);
  return res.status === 204 ? (undefined as T) : ((await res.json()) as T);
}

export const get = <T>(path: string, signal?: AbortSignal) => request<T>("GET", path, undefined, {}, signal);
export const post = <T>(path: string, body: unknown = {}, signal?: AbortSignal) => request<T>("POST", path, body, {}, signal);
export const put = <T>(path: string, body: unknown, headers?: Record<string, string>, signal?: AbortSignal) => request<T>("PUT", path, body, headers, signal);
