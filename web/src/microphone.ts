// The audio worklet hands the microphone's samples over as 16-bit numbers, a
// tenth of a second at a time, with their peak and how many were at full
// scale. It runs on the browser's audio thread, where nothing of the page is.

declare abstract class AudioWorkletProcessor { readonly port: MessagePort; }
declare function registerProcessor(name: string, made: new () => AudioWorkletProcessor): void;
declare const sampleRate: number;

const full = 0.999; // of full scale: a value at or above it is clipped

class Tape extends AudioWorkletProcessor {
  private held = new Int16Array(Math.round(sampleRate / 10));
  private count = 0;
  private peak = 0;
  private clipped = 0;
  private ended = false;

  constructor() {
    super();
    this.port.onmessage = () => { this.hand(); this.ended = true; this.port.postMessage({ done: true }); };
  }

  process(inputs: Float32Array[][]): boolean {
    if (this.ended) return false;
    const tracks = inputs[0] ?? [], frames = tracks[0]?.length ?? 0;
    for (let i = 0; i < frames; i++) {
      let sum = 0;
      for (const t of tracks) sum += t[i]!;
      this.take(sum / tracks.length);
    }
    return true;
  }

  private take(x: number): void {
    const a = Math.abs(x);
    if (a > this.peak) this.peak = a;
    if (a >= full) this.clipped++;
    this.held[this.count++] = Math.round(32767 * Math.max(-1, Math.min(1, x)));
    if (this.count === this.held.length) this.hand();
  }

  private hand(): void {
    if (this.count === 0) return;
    const pcm = this.held.slice(0, this.count).buffer;
    this.port.postMessage({ pcm, peak: this.peak, clipped: this.clipped }, [pcm]);
    this.count = this.peak = this.clipped = 0;
  }
}

registerProcessor("tape", Tape);
