import type { Waiting } from "./outbox";

// saidOf is a record of the outbox in a few words.
export function saidOf(w: Waiting): string {
  const noun = /\/([a-z]+)\/[0-9a-f-]+$/.exec(w.path)?.[1]?.replace(/s$/, "") ?? "record";
  const body = w.body as { kind?: string; text?: string; what?: string; name?: string; reason?: string; place?: string; number?: number; impacts?: unknown[] };
  const arrows = body.impacts && `${body.impacts.length} ${body.impacts.length === 1 ? "arrow" : "arrows"}`, which = body.number ? `${noun} ${body.number}` : noun;
  const about = [body.kind?.replaceAll("_", " "), body.text, body.what, body.name, body.place, body.reason, arrows].filter(Boolean).join(" ");
  return about ? `${which}: ${about}` : which;
}
