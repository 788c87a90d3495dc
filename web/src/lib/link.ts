// Whether the notebook answers, by the last thing that was asked of it.

let up = true, since = new Date().toISOString();
const watchers = new Set<() => void>();

// reached notes that the notebook answered, or did not.
export function reached(answered: boolean): void {
  if (answered === up) return;
  up = answered;
  since = new Date().toISOString();
  watchers.forEach((w) => w());
}

// Stopped is why a notebook that answers takes nothing that is sent to it.
export interface Stopped { code: string; why: string; hint: string }
let stopped: Stopped | undefined;

// takesNothing notes that the notebook takes nothing more, or, with no code,
// that it does.
export function takesNothing(code: string, why = "", hint = ""): void {
  if (code === (stopped?.code ?? "")) return;
  stopped = code === "" ? undefined : { code, why, hint };
  watchers.forEach((w) => w());
}

export const stoppedNow = (): Stopped | undefined => stopped;

export const linked = (): { up: boolean; since: string } => ({ up, since });

export function watchLink(watch: () => void): () => void {
  watchers.add(watch);
  return () => { watchers.delete(watch); };
}

addEventListener("offline", () => reached(false));

// What is shown as last seen, by when that was: the oldest is what the page
// must say.
const old: string[] = [];

export function showsOld(at: string): () => void {
  old.push(at);
  watchers.forEach((w) => w());
  return () => { old.splice(old.indexOf(at), 1); watchers.forEach((w) => w()); };
}

export const oldest = (): string | undefined => [...old].sort()[0];
