import { Problem } from "../lib/http";

// toWav decodes what this browser can play and writes it as a mono WAV of 16
// bits, the plainest form there is.
export async function toWav(file: Blob): Promise<Blob> {
  const context = new AudioContext();
  try {
    return encode(await context.decodeAudioData(await file.arrayBuffer()));
  } catch {
    throw new Problem(422, "This file cannot be read as sound", "Neither the notebook nor this browser can decode the file. Nothing of it was stored.", "Use WAV, FLAC, Ogg Vorbis, Opus, MP3, or what this phone itself records.", []);
  } finally {
    await context.close();
  }
}

function encode(sound: AudioBuffer): Blob {
  const n = sound.length, channels = sound.numberOfChannels;
  const pcm = new Int16Array(n); // every machine with a browser counts its bytes as WAV does, smallest first
  const tracks = Array.from({ length: channels }, (_, c) => sound.getChannelData(c));
  for (let i = 0; i < n; i++) {
    let sum = 0;
    for (const t of tracks) sum += t[i]!;
    pcm[i] = Math.round(32767 * Math.max(-1, Math.min(1, sum / channels)));
  }
  return new Blob([waveHeader(sound.sampleRate, n), pcm], { type: "audio/wav" });
}

// waveHeader is the start of a WAV file of n mono samples of 16 bits.
export function waveHeader(rate: number, n: number): ArrayBuffer {
  const out = new DataView(new ArrayBuffer(44));
  const word = (at: number, text: string) => [...text].forEach((c, i) => out.setUint8(at + i, c.charCodeAt(0)));
  word(0, "RIFF"); out.setUint32(4, 36 + 2 * n, true); word(8, "WAVEfmt ");
  out.setUint32(16, 16, true); // length of what follows
  out.setUint16(20, 1, true); // PCM
  out.setUint16(22, 1, true); // one channel
  out.setUint32(24, rate, true); out.setUint32(28, 2 * rate, true);
  out.setUint16(32, 2, true); out.setUint16(34, 16, true); // bytes a frame, bits a sample
  word(36, "data"); out.setUint32(40, 2 * n, true);
  return out.buffer;
}
