import { useGet } from "../lib/load";
import { when } from "../lib/words";
import type { Kind } from "./kinds";

// What was last read on every bow comes in one answer, which the list of the
// round and each bow's fields share, on this device too.

interface Line { shown: string; at: string }
export type LastRead = Partial<Record<Kind, Line>> & { bow: string; failed?: boolean };
interface RoundView { bows: LastRead[] }

// Lasts says what was last read; again asks anew.
export interface Lasts { words: (bow: string, kind: Kind) => string; again: () => void }

// useLasts gives it for all bows of the bench. What this device does not know
// is not called unread.
export function useLasts(): Lasts {
  const { value, problem, again } = useGet<RoundView>("/round");
  const words = (bow: string, kind: Kind): string => {
    if (!value) return problem ? "not on this device" : "…";
    const of = value.bows.find((b) => b.bow === bow);
    if (!of) return "not on this device"; // the answer is older than the bow
    if (of.failed) return "cannot be looked up just now";
    const line = of[kind];
    return line ? `${line.shown}, ${when(line.at)}` : "not read yet";
  };
  return { words, again };
}
