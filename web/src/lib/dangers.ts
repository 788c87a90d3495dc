// How safely this browser keeps what the notebook does not have yet.
export interface Storage { promised?: boolean; free?: number; installed: boolean; evicts: boolean; trouble: "" | "none" | "full" }

// roomTold is the room that a browser says is left. Recent Chromium tells a
// whole number of GiB, ten as a rule, whatever is left, so that pages learn
// nothing about the device: that is no answer.
export function roomTold(of: { quota?: number; usage?: number } | undefined): number | undefined {
  const free = of?.quota === undefined ? 0 : of.quota - (of.usage ?? 0);
  return of?.quota === undefined || (free > 0 && free % 2 ** 30 === 0) ? undefined : free;
}

const little = 30e6; // bytes: an evening of plotting and ten minutes of sound
const small = 400e6; // bytes: ordinary windows of a phone with room offer more

// dangers are what may cost a person what they note, most pressing first, in
// plain words; none when all is well.
export function dangers(s: Storage): string[] {
  const out: string[] = [];
  if (s.trouble === "none") out.push("This browser keeps nothing for pages, as in some private windows: what you note is lost when this page closes before it is sent. Use an ordinary window.");
  if (s.trouble === "full") out.push("This device has no room left: what you note now stays only while this page is open. Connect to the notebook, or clear some room on the device.");
  if (s.free !== undefined && s.free < little) out.push(`Only ${megabytes(s.free)} of room is left for this page. Send what waits, or clear some room, before a long session.`);
  else if (s.free !== undefined && s.free < small) out.push(`Only ${megabytes(s.free)} of room is offered to this page: this may be a private window, and what it holds is gone when it closes.`);
  if (s.evicts && !s.installed) out.push("On an iPhone or iPad what this page keeps is cleared after seven days without a visit, unless the page is on the home screen. Add it there, or send within a week.");
  else if (s.promised === false) out.push("This browser may clear what it keeps when the device runs out of room. Ask it to keep it, and send soon.");
  return out;
}

export const megabytes = (bytes: number): string => (bytes >= 1e9 ? `${Math.round(bytes / 1e8) / 10} GB` : `${Math.round(bytes / 1e6)} MB`);
