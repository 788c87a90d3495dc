import type { ReadingView } from "../lib/types";
import { when } from "../lib/words";
import { kinds, type LastRead, type Line } from "./kinds";

// lastRead picks the latest reading of each kind; the list comes oldest first.
export function lastRead(list: ReadingView[]): LastRead {
  const last: LastRead = {};
  for (const r of list) {
    const known = kinds.find((k) => k.kind === r.reading.kind);
    if (known && !r.corrected_by) last[known.kind] = { shown: r.shown, at: r.reading.at };
  }
  return last;
}

export const lastWords = (line: Line | undefined): string => (line ? `${line.shown}, ${when(line.at)}` : "not read yet");
