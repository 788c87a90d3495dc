import { api } from "../lib/http";
import { record } from "../lib/outbox";
import { uuidv7 } from "../lib/uuid";
import { sendSound } from "../sound/upload";
import { keepFile, type Of, type Where } from "../sound/takes";
import { toWav } from "./wav";

// take writes a chosen file down on this device, from where it goes to the
// notebook like a recording made here. What the notebook cannot decode is
// decoded here and kept as WAV.
export async function take(file: File, of: Of, where: Where, progress: (words: string) => void): Promise<void> {
  const id = uuidv7();
  progress(`Reading ${file.name} …`);
  const sound = (await readable(file)) ? file : await toWav(file);
  try {
    await keepFile(id, sound, file.name, of, where);
  } catch (e) {
    console.warn("Tautline: this browser does not keep files; it is sent at once.", e);
    await upload(id, sound, file.name, of, where, (share) => progress(`Sending ${file.name}: ${Math.round(100 * share)} %`));
  }
}

// upload sends a recording's bytes, then the record that says what it is of,
// where the browser has no room to keep them first.
async function upload(id: string, sound: Blob, name: string, of: Of, where: Where, progress: (share: number) => void): Promise<void> {
  const hash = await sendSound(id, sound, false, progress, new AbortController().signal);
  await record(`${api}/recordings/${id}`, {
    hash, name, media: sound.type || undefined, bow: of.bow, trial: of.trial, stop: of.stop, setup: of.setup, taps: of.taps,
    phone: where.phone || undefined, where: where.where || undefined, place: where.place || undefined, distance_to_bale: where.bale || undefined,
  });
}

// readable tells by the first bytes whether the notebook decodes the file
// itself: WAV, FLAC, Ogg and MP3.
async function readable(file: Blob): Promise<boolean> {
  const head = new Uint8Array(await file.slice(0, 12).arrayBuffer());
  const text = String.fromCharCode(...head);
  const mp3 = head[0] === 0xff && (head[1]! & 0xe6) === 0xe2;
  return /^(RIFF|RF64|fLaC|OggS|ID3)/.test(text) || mp3;
}
