import { api, sentence } from "../lib/http";
import { record, waiting } from "../lib/outbox";
import { asProblem } from "../lib/load";
import { takeBack as takeBackOne } from "../lib/takeback";
import type { SetUpView, Tree } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { kinds, type Kind } from "./kinds";

// Draft holds a bow's fields with the ids their readings will have, so that
// sending twice is harmless.
export interface Draft { texts: Record<Kind, string>; ids: Record<Kind, string>; at?: string }

export function emptyDraft(): Draft {
  return {
    texts: { brace_height: "", nocking_point: "", tiller: "" },
    ids: { brace_height: uuidv7(), nocking_point: uuidv7(), tiller: uuidv7() },
  };
}

// isNoted tells that a form's readings wait in the outbox already.
export const isNoted = (d: Draft): boolean => waiting().some((w) => Object.values(d.ids).some((id) => w.path.endsWith(id)));

// Done is what the last bow's button did, to be said and taken back.
export interface Done { bow: string; ids: string[]; kept: boolean }
export interface Outcome { ids: string[]; kept: boolean; errors: Partial<Record<Kind, string>> }

const edgeOf = (settings: Tree) => ((settings.brace_height as { from?: string } | undefined)?.from === "button" ? "button" : "pivot");

// saveAll records what was typed. A refused reading stays in its field with
// the reason; the others are kept.
export async function saveAll(draft: Draft, bow: string, setup: SetUpView): Promise<Outcome> {
  const out: Outcome = { ids: [], kept: false, errors: {} };
  await Promise.all(kinds.map(async ({ kind }) => { // all written down before the first answer
    const text = draft.texts[kind].trim();
    if (!text) return;
    const edge = kind === "brace_height" ? edgeOf(setup.setup.settings) : undefined;
    try {
      const how = await record(`${api}/readings/${draft.ids[kind]}`, { bow, setup: setup.setup.id, kind, text, edge, at: draft.at });
      out.ids.push(draft.ids[kind]);
      out.kept ||= how === "kept";
    } catch (e) {
      const p = asProblem(e);
      out.errors[kind] = p.fields[0] ? sentence(p.fields[0]) : p.message;
    }
  }));
  return out;
}

// takeBack takes readings out of sight: out of the outbox, or by a retraction.
export async function takeBack(ids: string[]): Promise<void> {
  for (const id of ids) {
    await takeBackOne(`${api}/readings/${id}`, "slip, taken back at once");
  }
}
