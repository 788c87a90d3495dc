import { keepDraft, readDraft } from "../lib/draft";
import { liveNow, tapLive } from "../sound/live";
import type { Tap } from "./types";

// A tape is one recording of the whole trial, made by the phone's own
// recorder: when it began, and when which stop began. It is kept on this
// device until the file is sent.
export interface Tape { started: number; ended?: number; taps: Tap[] }

export const tapeKey = (trial: string) => `trial:${trial}:tape`;

// tapStop notes the moment of "next stop" while a tape runs, in this page or
// beside it.
export function tapStop(trial: string, stop: number, now: number = Date.now()): void {
  if (liveNow()?.take.of.trial === trial) tapLive(stop);
  const tape = readDraft<Tape>(tapeKey(trial));
  if (!tape || tape.ended !== undefined) return;
  keepDraft(tapeKey(trial), { ...tape, taps: [...tape.taps, { stop, at_s: (now - tape.started) / 1000 }] });
}
