import type { Problem } from "../lib/http";
import { Note } from "./field";
import { Wrong } from "./states";

interface Outdated<T> { stored?: T; stored_tag?: string; differences?: { field: string; stored: unknown; sent: unknown }[] }

interface ClashProps<T> { problem: Problem; what: string; keepTheirs: (stored: T, tag: string) => void; sendMine: (tag: string, stored: T) => Promise<void> }

// Clash shows both versions when somebody else changed a record meanwhile, and
// lets people choose; any other refusal that no field shows is shown as it is.
export function Clash<T>({ problem, what, keepTheirs, sendMine }: ClashProps<T>) {
  const { stored, stored_tag: tag, differences } = (problem.body ?? {}) as Outdated<T>;
  if (problem.status !== 412 || !stored || !tag) return problem.fields.length > 0 ? null : <Wrong problem={problem} />;
  return (
    <Note kind="warn">
      <p><strong>{what} were changed elsewhere meanwhile.</strong></p>
      <ul>{(differences ?? []).map((d) => <li key={d.field}>{d.field.slice(1).replaceAll("_", " ")}: there {said(d.stored)}, here {said(d.sent)}</li>)}</ul>
      <div class="row">
        <button type="button" onClick={() => void sendMine(tag, stored)}>Use what is here</button>
        <button type="button" class="quiet" onClick={() => keepTheirs(stored, tag)}>Keep what is there</button>
      </div>
    </Note>
  );
}

const said = (value: unknown): string => (value === null || value === undefined || value === "" ? "not set" : typeof value === "boolean" ? (value ? "yes" : "no") : String(value));
