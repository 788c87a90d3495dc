import { useEffect, useState } from "preact/hooks";
import { api } from "../lib/http";
import { notIn, record, waiting, watchOutbox } from "../lib/outbox";
import { takeBack as takeBackNow } from "../lib/takeback";
import { offerUndo } from "../lib/undo";
import { uuidv7 } from "../lib/uuid";
import type { StopReading, TrialReading, TrialView } from "./types";

// What is sent of a trial. Every record goes through the outbox, with an id
// made here: a dropped connection loses nothing, a resend doubles nothing.

export interface NewReading { kind: string; text: string; edge?: string; repeat?: number; corrects?: string; note?: string }

// sendReading notes one reading at a stop.
export function sendReading(trial: TrialView["trial"], stop: number, id: string, r: NewReading): Promise<"sent" | "kept"> {
  return record(`${api}/readings/${id}`, { bow: trial.bow, setup: trial.setup, trial: trial.id, stop, ...r });
}

export const sendEvent = (trial: string, what: string, stop?: number) =>
  record(`${api}/trials/${trial}/events/${uuidv7()}`, { what, ...(stop === undefined ? {} : { stop }) });

// leaveTrial ends the day or the trial; for a moment it can be undone.
export async function leaveTrial(trial: string, what: "paused" | "finished" | "abandoned"): Promise<void> {
  const path = `${api}/trials/${trial}/events/${uuidv7()}`;
  await record(path, { what });
  offerUndo({ said: left[what], undo: () => takeBackNow(path, "undone at once"), undone: "The trial goes on." });
}

const left = { paused: "The trial is left for today.", finished: "The trial is finished.", abandoned: "The trial is given up." };

// takeBack takes a record out of sight and gives the retraction's id, which
// taken back itself undoes it.
export async function takeBack(target: string, reason: string): Promise<string> {
  const id = uuidv7();
  await record(`${api}/retractions/${id}`, { target, reason });
  return id;
}

// withUnit writes the person's unit behind a bare number, so that a record
// that waits means the same when it arrives.
export function withUnit(text: string, symbol: string | undefined): string {
  const t = text.trim();
  return symbol && /^[+-]?[\d.,]+$/.test(t) ? `${t} ${symbol}` : t;
}

// useUnsent follows what this device has not sent yet.
export function useUnsent(): number {
  const [n, setN] = useState(0);
  useEffect(() => watchOutbox(setN), []);
  return n;
}

// withUnsent puts what waits on this device, or was sent since the view was
// asked for, into the view of a trial, so that
// the page at the range shows all that was noted, connection or not.
export function withUnsent(view: TrialView, at?: string): TrialView {
  const unsent = new Set(waiting().map((w) => w.path));
  const stops = view.stops.map((s) => ({ ...s, readings: [...s.readings] }));
  for (const w of notIn(at ?? "")) {
    const body = w.body as Partial<TrialReading> & { target?: string; what?: string };
    const id = w.path.split("/").pop()!;
    const stop = body.stop === undefined ? undefined : stops[body.stop];
    if (w.path.includes("/retractions/")) {
      for (const s of stops) s.readings = s.readings.filter((r) => r.reading.id !== body.target);
    } else if (w.path.includes(`/trials/${view.trial.id}/events/`) && stop && stop.state === "todo") {
      stop.state = "reached";
    } else if (w.path.includes("/readings/") && body.trial === view.trial.id && stop && !stop.readings.some((r) => r.reading.id === id)) {
      stop.readings.push({ reading: { at: w.at, ...body, id } as TrialReading, label: body.kind!.replaceAll("_", " "), shown: body.text!, unsent: unsent.has(w.path) });
    }
  }
  for (const s of stops) mark(s.readings);
  return { ...view, stops: stops.map((s) => ({ ...s, state: standing(s.readings, "brace_height").length > 0 ? "measured" : s.state === "measured" ? "reached" : s.state })) };
}

function mark(readings: StopReading[]): void {
  for (const r of readings) {
    const old = readings.find((o) => o.reading.id === r.reading.corrects);
    if (old) old.corrected_by = r.reading.id;
  }
}

// standing gives the readings of a kind that no later one corrects.
export const standing = (readings: StopReading[], kind?: string): StopReading[] =>
  readings.filter((r) => !r.corrected_by && (kind === undefined || r.reading.kind === kind));
