import { api, Problem, problemOf } from "../lib/http";
import { record } from "../lib/outbox";
import { uuidv7 } from "../lib/uuid";
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
  const { hash } = await send(`${api}/recordings/${id}/sound`, sound, progress);
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

// send puts the bytes with word of how far they are; fetch has none to give.
export function send(path: string, body: Blob, progress: (share: number) => void): Promise<{ hash: string }> {
  return new Promise((done, fail) => {
    const xhr = new XMLHttpRequest();
    xhr.open("PUT", path);
    xhr.responseType = "json";
    xhr.setRequestHeader("Content-Type", "application/octet-stream");
    xhr.upload.onprogress = (e) => { if (e.lengthComputable) progress(e.loaded / e.total); };
    xhr.onload = () => {
      const kept = xhr.response as { hash?: string } | null;
      if (xhr.status < 300 && kept?.hash) return done({ hash: kept.hash });
      fail(problemOf(xhr.status, xhr.statusText, xhr.getResponseHeader("Content-Type") ?? "", kept));
    };
    xhr.onerror = () => fail(new Problem(0, "No answer", "The connection broke while the recording was on its way.", "Try again when the notebook answers; a second sending does no harm.", []));
    xhr.send(body);
  });
}
