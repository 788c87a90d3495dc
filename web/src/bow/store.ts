import { api, Problem, put } from "../lib/http";
import { record } from "../lib/outbox";
import type { Bow, Tree } from "../lib/types";
import { uuidv7 } from "../lib/uuid";

// Storing what a form holds. Ids are the form's own, so that sending twice is
// harmless; what follows is for the case that the first answer was lost and
// the form was changed before it was sent again.

// at is when saving was first tried: the ids are as old as the form, which may
// have lain here for days.
export interface BowFields { name: string; style: "recurve" | "barebow"; owner?: string; at: string }

// storeBow stores a bow, or renames the one an earlier sending stored.
export async function storeBow(id: string, fields: BowFields): Promise<void> {
  try {
    await put(`${api}/bows/${id}`, fields);
  } catch (e) {
    const stored = storedIn<Bow>(e), tag = tagIn(e);
    if (!stored || !tag) throw e;
    await changeBow(stored, tag, { name: fields.name, style: fields.style });
  }
}

// changeBow changes the version that the tag names, and no other.
export function changeBow(stored: Bow, tag: string, next: Partial<Pick<Bow, "name" | "style" | "notes" | "archived" | "growing">>): Promise<Bow> {
  const { name, style, notes, archived, growing } = { ...stored, ...next };
  return put<Bow>(`${api}/bows/${stored.id}/about`, { name, style, notes, archived, growing }, { "If-Match": tag });
}

export interface NewSetUp { bow: string; parent?: string; reason?: string; settings: Tree; at: string }

// storeSetUp stores a set-up. If an earlier sending stored other content under
// this id, that one stands (nothing is overwritten) and this becomes a
// correction of it.
export async function storeSetUp(id: string, setup: NewSetUp): Promise<"sent" | "kept"> {
  try {
    return await record(`${api}/setups/${id}`, setup);
  } catch (e) {
    if (!storedIn(e)) throw e;
    return record(`${api}/setups/${uuidv7()}`, { ...setup, parent: id, reason: setup.reason || "Corrected right after it was entered." });
  }
}

// storedIn gives what the notebook holds under the same id, if that is why it
// refused.
function storedIn<T>(e: unknown): T | undefined {
  if (!(e instanceof Problem) || (e.status !== 409 && e.status !== 412)) return undefined;
  return (e.body as { stored?: T }).stored;
}

// tagIn names the version that the notebook holds, where what it holds can
// change.
function tagIn(e: unknown): string | undefined {
  return e instanceof Problem ? (e.body as { stored_tag?: string }).stored_tag : undefined;
}
