import { useState } from "preact/hooks";
import { useBusy } from "../lib/busy";
import { Problem } from "../lib/http";
import { asProblem } from "../lib/load";

// useSend runs a request of a form, one at a time: busy meanwhile, with what went
// wrong.
export function useSend(): { busy: boolean; problem?: Problem; send: (what: () => Promise<void>) => Promise<void> } {
  const { busy, run } = useBusy();
  const [problem, setProblem] = useState<Problem>();
  const send = (what: () => Promise<void>) => run(async () => {
    setProblem(undefined);
    await what().catch((e: unknown) => setProblem(asProblem(e)));
  });
  return { busy, problem, send };
}

// codeAsked says that the password was right, and the second factor is next.
export const codeAsked = (p?: Problem): boolean => p?.code === "second-factor";

export const passwordHelp = "15 to 256 characters, any you like. Four unusual words are good; a password manager is better.";

export const passwordHelpWithFactor = "8 to 256 characters, any you like, since the second factor stands beside it.";

// day shows a moment in this device's own words.
export const day = (at: string): string => new Date(at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
