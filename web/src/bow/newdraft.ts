import { keepDraft, readDraft } from "../lib/draft";
import type { Tree } from "../lib/types";
import { uuidv7 } from "../lib/uuid";
import { fromSettings, isEmpty, nothing, type Typed } from "./typed";

// The form of a new bow, kept on this device until the notebook has it.
export interface NewBow {
  bow: string; setup: string; // ids, made once
  name: string; style: "recurve" | "barebow"; typed: Typed;
  owner?: string; hand?: "right" | "left"; // another archer, whose bow it is, and the hand they draw with
  at?: string; // when saving was first tried
  file?: string; unknown?: string[]; // where it was read from, and what was not understood there
  before?: NewBow; // what had been typed when a file took its place
}

export const newBowKey = "bow-new";

export const freshBow = (): NewBow => ({ bow: uuidv7(), setup: uuidv7(), name: "", style: "recurve", typed: nothing });

// readBowFile fills the form from a bow file; what was typed before can be
// brought back. The error is in words that help.
export async function readBowFile(file: File): Promise<NewBow> {
  if (file.size > 1_000_000) throw new Error(`${file.name} is too large for a bow file (over 1 MB).`);
  const settings = parseBowFile(await file.text(), file.name);
  const { typed, unknown } = fromSettings(settings);
  const held = readDraft<NewBow>(newBowKey);
  const next: NewBow = { ...freshBow(), name: nameOf(settings, file.name), typed, file: file.name, unknown };
  if (held && !(isEmpty(held.typed) && held.name === "")) next.before = { ...held, before: undefined };
  keepDraft(newBowKey, next);
  return next;
}

export function parseBowFile(text: string, name: string): Tree {
  let tree: unknown;
  try {
    tree = JSON.parse(text);
  } catch (e) {
    throw new Error(`${name} is not a whole bow file: ${e instanceof Error ? e.message : "it cannot be read"}. Open it in a text editor and look for a missing comma, quotation mark or bracket at that place.`);
  }
  if (typeof tree !== "object" || tree === null || Array.isArray(tree)) throw new Error(`${name} does not hold a bow: it should begin with { and have entries such as "draw".`);
  const settings = tree as Tree;
  if (!settings.draw && !settings.limbs && !settings.brace_height) throw new Error(`${name} does not hold a bow: there is no entry "draw", "limbs" or "brace_height" in it.`);
  return settings;
}

// nameOf takes the bow's name from the notes' first words ("Heron 70: …"), or
// from the file's.
function nameOf(settings: Tree, file: string): string {
  const notes = typeof settings.notes === "string" ? settings.notes : "";
  const head = /^([^:.\n]{2,40}):/.exec(notes)?.[1];
  return head ?? file.replace(/\.json$/i, "").replaceAll(/[-_]+/g, " ");
}
