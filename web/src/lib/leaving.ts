import { keep, keptKeys, keptSafely } from "./kept";
import { refused, waiting } from "./outbox";
import { forgetSeen } from "./seen";
import { dropTake, takes } from "../sound/takes";
import { dropPictures } from "../photo/picture";

// What is on this device when somebody logs out: things that are nowhere else,
// which only they can give up, and what was looked at, which goes.

export interface HeldHere { records: number; forms: number; sounds: number }

// Choices of this device, that say nothing of anybody's bow.
const choices = ["draft:account:last", "draft:device:", "draft:repeatability", "draft:onsets:event", "draft:ears"];
const forms = (): string[] => keptKeys("draft:").filter((k) => !choices.some((c) => k.startsWith(c)));

export async function heldHere(): Promise<HeldHere> {
  const sounds = await takes().catch(() => []);
  return { records: waiting().length + refused().length, forms: forms().length, sounds: sounds.length };
}

export const nothing = (h: HeldHere): boolean => h.records + h.forms + h.sounds === 0;

const many = (n: number, one: string, more = one + "s"): string => (n === 0 ? "" : `${n} ${n === 1 ? one : more}`);

// inWords says what is held, "" for nothing.
export const inWords = (h: HeldHere): string => [many(h.records, "record not sent"), many(h.sounds, "recording"), many(h.forms, "form or plot begun", "forms or plots begun")].filter(Boolean).join(", ");

// clearHere forgets everything that this device holds of the notebook.
export async function clearHere(): Promise<void> {
  forgetSeen();
  for (const k of keptKeys("")) if (!k.startsWith("draft:device:")) keep(k, undefined);
  for (const t of await takes().catch(() => [])) await dropTake(t.id);
  await dropPictures();
  await keptSafely();
}
