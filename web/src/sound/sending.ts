import { api, request, told } from "../lib/http";
import { alsoSends, record, setApart } from "../lib/outbox";
import { asProblem } from "../lib/load";
import { mayGo } from "./thrift";
import { goesInParts, sendSound, uploadPath } from "./upload";
import { dropTake, endLost, keepTake, soundOf, takes, watchTakes, type Take } from "./takes";

// Takes go to the notebook like everything else: now, or when it answers. The
// sound goes first; the record that says what it is of then takes its place
// in the outbox, behind what it belongs to.

let going: { id: string; share: number } | undefined;
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

async function sendTake(t: Take): Promise<void> {
  going = { id: t.id, share: 0 };
  try {
    let hash = t.hash;
    if (!hash) {
      const sound = await soundOf(t);
      if (!t.begun && goesInParts(sound)) await keepTake({ ...t, begun: true });
      hash = await sendSound(t.id, sound, t.begun ?? false, (share) => { going = { id: t.id, share }; });
      await keepTake({ ...t, hash, why: undefined });
    }
    await record(`${api}/recordings/${t.id}`, bodyOf(t, hash));
    await dropTake(t.id);
  } finally {
    going = undefined;
  }
}

// throwAway forgets a take here, and what the notebook has of its sound: it
// would give that up by itself after a day.
export async function throwAway(t: Take): Promise<void> {
  await dropTake(t.id);
  if (t.begun && !t.hash) await request("DELETE", uploadPath(t.id)).catch(() => undefined);
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
      } catch (e) {
        const p = asProblem(e);
        if (p.status >= 0 && !p.final) return; // it goes by itself later
        await keepTake({ ...t, why: told(p) });
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
