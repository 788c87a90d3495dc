import { api, request, told } from "../lib/http";
import { alsoSends, record, setApart, severalHere, whenWriterChanges, withdraw, writerNow } from "../lib/outbox";
import { asProblem } from "../lib/load";
import { takeBack } from "../lib/takeback";
import { mayGo } from "./thrift";
import { goesInParts, sendSound, uploadPath } from "./upload";
import { dropTake, endLost, noteTake, soundOf, takes, watchTakes, type Take } from "./takes";

// Takes go to the notebook like everything else: now, or when it answers. The
// sound goes first; the record that says what it is of then takes its place
// in the outbox, behind what it belongs to.

// Whose a take is, in a notebook of several people: the reader's, another's, or
// nobody's yet, recorded by a program that did not note it.
export type Whose = "mine" | "theirs" | "unknown";
export function whose(t: Take, me = writerNow(), several = severalHere()): Whose {
  if (!several) return "mine";
  if (t.by === undefined) return "unknown";
  return t.by === me ? "mine" : "theirs";
}

// What was not there for who sent it may be there for its writer: such a refusal
// counts until the login changes or the page is opened anew.
const unseen = /names a record that is not in the notebook/;
const refusedNow = new Set<string>();
whenWriterChanges(() => { refusedNow.clear(); going?.stop.abort(); }); // parts belong to who sent them

const isRefused = (t: Take): boolean => Boolean(t.why) && (refusedNow.has(t.id) || !unseen.test(t.why!));

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

const recordOf = (id: string): string => `${api}/recordings/${id}`;
const stillHere = async (id: string): Promise<boolean> => (await takes()).some((t) => t.id === id);

async function sendTake(t: Take): Promise<void> {
  const stop = new AbortController(), { id } = t, me = writerNow();
  // thrown away in any tab, it goes no further
  const unwatch = watchTakes(() => void stillHere(id).then((here) => { if (!here) stop.abort(); }));
  let { hash } = t;
  going = { id, share: 0, stop };
  try {
    if (!hash) {
      const sound = await soundOf(t), begun = t.begun ?? false;
      if (!begun && goesInParts(sound)) await noteTake(id, { begun: true });
      hash = await sendSound(id, sound, begun, (share) => { going = { id, share, stop }; }, stop.signal);
      await noteTake(id, { hash, why: undefined });
    }
    if (!(await stillHere(id)) || writerNow() !== me) return; // thrown away: then nothing names its sound
    if ((await record(recordOf(id), bodyOf(t, hash), me || undefined)) === "kept") {
      withdraw(recordOf(id)); // the take goes again as it is: its sound is given up after a day in which no record named it
      return;
    }
    if (await stillHere(id)) await dropTake(id);
    else await takeBack(recordOf(id), "thrown away while it was sent");
  } catch (e) {
    const p = asProblem(e);
    if (p.status >= 0 && !p.final) throw e; // it goes by itself later
    if (t.hash && p.at("hash")) { // what nothing named was given up after a day: the sound goes once more
      await noteTake(id, { hash: undefined, begun: false });
      throw e;
    }
    refusedNow.add(id);
    await noteTake(id, { why: told(p) });
  } finally {
    unwatch();
    going = undefined;
  }
}

// throwAway forgets a take here, ends its sending, and what the notebook has of
// its sound: it would give that up by itself after a day.
export async function throwAway(t: Take): Promise<void> {
  await dropTake(t.id);
  const sending = going?.id === t.id;
  if (sending) going!.stop.abort();
  withdraw(recordOf(t.id)); // waiting behind others it had not gone yet
  if ((t.begun || sending) && !t.hash) await request("DELETE", uploadPath(t.id)).catch(() => undefined);
}

// sendTakes sends what has ended, one at a time and from one tab only. What
// gets no answer, or one that is not about it, stays for the next try; what is
// refused stays with the reason; what is another's waits for them. One that is
// nobody's yet is asked for by its id.
export async function sendTakes(again = false, asked = ""): Promise<void> {
  await endLost();
  if (severalHere() === undefined) return; // whose they are is not known yet
  const once = async () => {
    for (const t of await takes()) {
      if (!t.ended || (whose(t) !== "mine" && (t.id !== asked || whose(t) === "theirs"))) continue;
      if (!again && (isRefused(t) || !mayGo())) continue;
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
