import { api, request, told } from "../lib/http";
import { alsoSends, record, setApart } from "../lib/outbox";
import { asProblem } from "../lib/load";
import { mayGo } from "./thrift";
import { goesInParts, sendSound, uploadPath } from "./upload";
import { dropTake, endLost, keepTake, soundOf, takes, watchTakes, type Take } from "./takes";

// Takes go to the notebook like everything else: now, or when it answers. The
// sound goes first; the record that says what it is of then takes its place
// in the outbox, behind what it belongs to.

let going: { id: string; share: number; stop: AbortController } | undefined;
export const sendingNow = (): { id: string; share: number } | undefined => going;

// bodyOf is the record of a take.
export function bodyOf(t: Take, hash: string): Record<string, unknown> {
  const { of, where } = t;
  return {
    hash, name: t.name, media: t.chosen ? t.chosen.media || undefined : "audio/wav", bow: of.bow || undefined, trial: of.trial, stop: of.stop, setup: of.setup,
    taps: t.taps.length > 0 ? t.taps : undefined,
    phone: where.phone || undefined, where: where.where || undefined, place: where.place || undefined, distance_to_bale: where.bale || undefined,
    auto_gain: t.treated.some((x) => !x.includes("(")) || undefined, at: t.started,
  };
}

const stillHere = async (id: string): Promise<boolean> => (await takes()).some((t) => t.id === id);

// note writes more down of a take, unless it was thrown away meanwhile.
async function note(t: Take, more: Partial<Take>): Promise<Take> {
  const next = { ...t, ...more };
  if (await stillHere(t.id)) await keepTake(next);
  return next;
}

async function sendTake(first: Take): Promise<void> {
  const stop = new AbortController(), { id } = first;
  let t = first;
  going = { id, share: 0, stop };
  try {
    if (!t.hash) {
      const sound = await soundOf(t), begun = t.begun ?? false;
      if (!begun && goesInParts(sound)) t = await note(t, { begun: true });
      const hash = await sendSound(id, sound, begun, (share) => { going = { id, share, stop }; }, stop.signal);
      t = await note(t, { hash, why: undefined });
    }
    if (!(await stillHere(id))) return; // thrown away: then nothing names its sound
    await record(`${api}/recordings/${id}`, bodyOf(t, t.hash!));
    await dropTake(id);
  } catch (e) {
    const p = asProblem(e);
    if (p.status >= 0 && !p.final) throw e; // it goes by itself later
    await note(t, { why: told(p) });
  } finally {
    going = undefined;
  }
}

// throwAway forgets a take here, ends its sending, and what the notebook has of
// its sound: it would give that up by itself after a day.
export async function throwAway(t: Take): Promise<void> {
  await dropTake(t.id);
  const sending = going?.id === t.id;
  if (sending) going!.stop.abort();
  if ((t.begun || sending) && !t.hash) await request("DELETE", uploadPath(t.id)).catch(() => undefined);
}

// sendTakes sends what has ended, one at a time and from one tab only. What
// gets no answer, or one that is not about it, stays for the next try; what is
// refused stays with the reason.
export async function sendTakes(again = false): Promise<void> {
  await endLost();
  const once = async () => {
    for (const t of await takes()) {
      if (!t.ended || (!again && (t.why || !mayGo()))) continue;
      try {
        await sendTake(t);
      } catch {
        if (await stillHere(t.id)) return; // it goes by itself later
      }
    }
  };
  if (!navigator.locks) return once();
  await navigator.locks.request("tautline-send", { ifAvailable: true }, async (lock) => { if (lock) await once(); });
}

// keepSending counts the takes among what is not yet sent, and sends them
// whenever the outbox is tried.
export function keepSending(): void {
  const count = () => void takes().then((list) => setApart(list.filter((t) => t.ended).length), () => undefined);
  let tried = 0;
  watchTakes(() => {
    count();
    clearTimeout(tried);
    tried = setTimeout(() => void sendTakes().catch(() => undefined), 300);
  });
  alsoSends(() => void sendTakes().catch(() => undefined));
  count();
}
