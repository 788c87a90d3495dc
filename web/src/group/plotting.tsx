import { useEffect, useState } from "preact/hooks";
import { useDraft, type Update } from "../lib/draft";
import { api } from "../lib/http";
import { keptTrouble, watchKept } from "../lib/kept";
import { queue } from "../lib/outbox";
import { offerUndo } from "../lib/undo";
import { uuidv7 } from "../lib/uuid";
import { nextNumber, type ShownEnd } from "./ends";
import { bodyOf, finish, isFull, leave, opened, place, sessionEnded, sessionResumed, unplotted, type Belongs, type Plot } from "./plotstate";
import type { End } from "./types";

// rest is how long a full end waits before it goes out by itself; it can be
// undone before and after.
const rest = 10_000;

export interface Plotting {
  plot: Plot; set: Update<Plot>; full: boolean; said: string; noRoom: boolean;
  onPlace: (at: { x: number; y: number }) => void; onRing: (next: (now: Plot) => Plot) => void; done: () => void; leave: () => void; endSession: () => void;
}

// useOpenEnd is what is kept on the device: what was chosen, and the open end.
export const useOpenEnd = (key: string, given: Partial<Plot>) => useDraft<Plot>(key, { ...unplotted, open: opened(1), session: uuidv7(), ...given });

// lapse takes away the undo of a session's end.
let lapse = (): void => undefined;

// usePlotting is the open end with everything chosen, kept on the device at
// every tap. A finished end goes into the outbox at once.
export function usePlotting(plot: Plot, setPlot: Update<Plot>, to: Belongs, ends: ShownEnd[]): Plotting {
  const [said, say] = useState("");
  const noRoom = useNoRoom();
  const number = nextNumber(ends);
  const full = isFull(plot);
  const idle = plot.open.impacts.length === 0 && !plot.open.corrects;

  // Ends are numbered through a session, those of this device included.
  useEffect(() => {
    if (idle && plot.open.number !== number) setPlot((now) => ({ ...now, open: { ...now.open, number } }));
  }, [idle, number, plot.session]);

  const send = (now: Plot): Plot => {
    if (now.open.impacts.length === 0) return now;
    const { end, next } = finish(now, to, number);
    if (!to.trial && !now.open.corrects && !now.sessionKept) queue(`${api}/sessions/${now.session}`, { bow: to.bow, at: end.at, place: now.place.trim() || undefined });
    queue(`${api}/ends/${end.id}`, bodyOf(end));
    if (now.ended) lapse(); // the new session has begun
    say(saying(end));
    return { ...next, sessionKept: now.sessionKept || (!to.trial && !now.open.corrects), ended: undefined };
  };
  const done = () => setPlot(send);
  const endSession = () => {
    let was = plot;
    setPlot((now) => sessionEnded(was = send(now), new Date()));
    lapse = offerUndo({ said: "The session is ended.", undo: () => setPlot((now) => sessionResumed(now, was)), undone: "The session goes on." });
  };

  useEffect(() => {
    if (!full || plot.open.corrects || plot.picked >= 0) return;
    const timer = setTimeout(done, rest);
    return () => clearTimeout(timer);
  }, [full, plot.open]);

  // A tap after the last arrow of an end is the first of the next.
  const onto = (next: (now: Plot) => Plot) => setPlot((now) => next(isFull(now) && now.picked < 0 && !now.open.corrects ? send(now) : now));
  return {
    plot, set: setPlot, full, said, noRoom, done, endSession,
    onPlace: (at) => onto((now) => place(now, at)), onRing: onto,
    leave: () => setPlot((now) => leave(now, number)),
  };
}

// useNoRoom tells that what is noted stands in memory only.
function useNoRoom(): boolean {
  const [none, set] = useState(keptTrouble() !== "");
  useEffect(() => watchKept(() => set(keptTrouble() !== "")), []);
  return none;
}

const saying = (end: End): string => (end.corrects ? `The correction of end ${end.number} is noted.` : `End ${end.number} is noted.`);
