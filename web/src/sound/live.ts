import type { Tap } from "../trial/types";
import { writerNow } from "../lib/outbox";
import { uuidv7 } from "../lib/uuid";
import { addPiece, dropTake, keepTake, lockOf, type Of, type Take, type Where } from "./takes";

// The one recording that runs in this page, if any. It lives outside of the
// components, so that turning to the next stop does not end it.

export interface Live { take: Take; peak: number; level: number; clippedAgo: number; hidden: boolean }
export type Trouble = "insecure" | "none" | "denied" | "no-device" | "lost" | "full" | "long" | string;

const mostSeconds = 29.5 * 60; // a little less than the longest recording the notebook listens to
const pieceSeconds = 0.5;

let live: Running | undefined;
let trouble: Trouble | undefined;
const watchers = new Set<() => void>();
const tell = () => watchers.forEach((w) => w());

export function watchLive(watch: () => void): () => void {
  watchers.add(watch);
  return () => { watchers.delete(watch); };
}

export const liveNow = (): Live | undefined => live && { take: live.take, peak: live.peak, level: live.level, clippedAgo: live.clippedAt ? (Date.now() - live.clippedAt) / 1000 : Infinity, hidden: document.hidden };
export const lastTrouble = (): Trouble | undefined => trouble;

// possible says whether this page may ask for the microphone at all.
export const possible = (): boolean => window.isSecureContext && Boolean(navigator.mediaDevices?.getUserMedia) && typeof AudioWorkletNode !== "undefined" && typeof indexedDB !== "undefined";

// startLive asks for the microphone and records until stopLive.
export async function startLive(of: Of, where: Where, name: string, firstStop: number): Promise<void> {
  if (live) return;
  trouble = undefined;
  try {
    live = await Running.begin(of, where, name, firstStop);
  } catch (e) {
    trouble = whyNot(e);
  }
  tell();
}

export async function stopLive(why?: Trouble): Promise<void> {
  const ending = live;
  if (!ending || ending.stopping) return;
  if (why) trouble = why;
  await ending.stop();
  live = undefined;
  tell();
}

// tapLive notes that a stop begins now, in the recording's own time.
export function tapLive(stop: number): void {
  if (!live) return;
  live.tap(stop);
  tell();
}

function whyNot(e: unknown): Trouble {
  const name = (e as { name?: string } | undefined)?.name;
  if (name === "NotAllowedError" || name === "SecurityError") return "denied";
  if (name === "NotFoundError" || name === "OverconstrainedError") return "no-device";
  if (name === "QuotaExceededError") return "full";
  return e instanceof Error ? e.message : String(e);
}

// wished switches off everything that would change the level behind our back.
const wished = { echoCancellation: false, noiseSuppression: false, autoGainControl: false } as const;
const wishWords: Record<keyof typeof wished, string> = { echoCancellation: "echo cancelling", noiseSuppression: "noise suppression", autoGainControl: "automatic gain" };

// left lists what the browser did not switch off, or does not tell of.
function left(track: MediaStreamTrack): string[] {
  const settings = track.getSettings() as Record<string, unknown>;
  return (Object.keys(wished) as (keyof typeof wished)[]).filter((k) => settings[k] !== false).map((k) => settings[k] === undefined ? `${wishWords[k]} (the browser does not say)` : wishWords[k]);
}

class Running {
  peak = 0;
  level = 0;
  clippedAt = 0;
  stopping = false;
  private held: Int16Array[] = [];
  private count = 0;
  private written: Promise<void> = Promise.resolve();
  private release: () => void = () => undefined;
  private wake?: { release(): Promise<void> };
  private lastAt = 0;
  private constructor(readonly take: Take, private stream: MediaStream, private context: AudioContext, private node: AudioWorkletNode) {}

  static async begin(of: Of, where: Where, name: string, firstStop: number): Promise<Running> {
    const stream = await navigator.mediaDevices.getUserMedia({ audio: { ...wished, channelCount: { ideal: 1 } } });
    const context = new AudioContext({ latencyHint: "playback" });
    try {
      await context.audioWorklet.addModule("/microphone.js");
      await context.resume();
      const node = new AudioWorkletNode(context, "tape", { numberOfInputs: 1, numberOfOutputs: 1 });
      const track = stream.getAudioTracks()[0]!;
      const taps: Tap[] = of.stop === undefined ? [{ stop: firstStop, at_s: 0 }] : [];
      const take: Take = {
        id: uuidv7(), by: writerNow() || undefined, name, started: new Date().toISOString(), rate: context.sampleRate, frames: 0, pieces: 0, ended: false,
        clipped: 0, treated: left(track), gaps: 0, of, where: { ...where, phone: where.phone || track.label }, taps,
      };
      const made = new Running(take, stream, context, node);
      made.hold(); // before it is written down: what no page holds counts as broken off
      await keepTake(take);
      node.port.onmessage = (e: MessageEvent<{ pcm?: ArrayBuffer; peak: number; clipped: number }>) => { if (e.data.pcm) made.hear(e.data.pcm, e.data.peak, e.data.clipped); };
      track.onended = () => void stopLive("lost");
      context.createMediaStreamSource(stream).connect(node).connect(context.destination); // it plays silence; unconnected it would not run
      return made;
    } catch (e) {
      stream.getTracks().forEach((t) => t.stop());
      await context.close();
      throw e;
    }
  }

  // hold keeps a lock for as long as this page records, and the screen awake:
  // a phone that sleeps stops its microphone.
  private hold(): void {
    void navigator.locks?.request(lockOf(this.take.id), () => new Promise<void>((done) => { this.release = done; }));
    const wake = (navigator as unknown as { wakeLock?: { request(kind: string): Promise<{ release(): Promise<void> }> } }).wakeLock;
    wake?.request("screen").then((w) => { this.wake = w; }, () => undefined); // it is only a comfort
  }

  private hear(pcm: ArrayBuffer, peak: number, clipped: number): void {
    const now = performance.now(), sound = new Int16Array(pcm);
    if (this.lastAt > 0 && now - this.lastAt > 1500) this.take.gaps++; // the device slept, or a call came in
    this.lastAt = now;
    let sum = 0;
    for (const v of sound) sum += v * v;
    this.peak = peak;
    this.level = Math.sqrt(sum / sound.length) / 32768;
    this.take.clipped += clipped;
    if (clipped > 0) this.clippedAt = Date.now();
    this.held.push(sound);
    this.count += sound.length;
    if (this.count >= pieceSeconds * this.take.rate) this.write();
    if (this.take.frames / this.take.rate > mostSeconds) void stopLive("long");
    tell();
  }

  private write(): void {
    if (this.count === 0) return;
    const whole = new Int16Array(this.count);
    let at = 0;
    for (const h of this.held) { whole.set(h, at); at += h.length; }
    this.take.frames += this.count;
    this.take.pieces++;
    this.held = [];
    this.count = 0;
    const take = structuredClone(this.take);
    this.written = this.written.then(() => addPiece(take, whole.buffer)).catch(() => { void stopLive("full"); });
  }

  tap(stop: number): void {
    const at_s = Math.round(1000 * (this.take.frames + this.count) / this.take.rate) / 1000;
    this.take.taps.push({ stop, at_s });
  }

  // stop gives the microphone back and ends the take.
  async stop(): Promise<void> {
    this.stopping = true;
    await new Promise<void>((done) => {
      setTimeout(done, 500); // the audio thread may be gone
      const before = this.node.port.onmessage;
      this.node.port.onmessage = (e: MessageEvent<{ done?: boolean }>) => { if (e.data.done) done(); else before?.call(this.node.port, e as MessageEvent); };
      this.node.port.postMessage("end");
    });
    this.stream.getTracks().forEach((t) => { t.onended = null; t.stop(); });
    await this.context.close().catch(() => undefined);
    this.write();
    await this.written;
    if (this.take.pieces === 0) await dropTake(this.take.id);
    else await keepTake({ ...this.take, ended: true }).catch(() => { trouble = "full"; });
    await this.wake?.release().catch(() => undefined);
    this.release();
  }
}
