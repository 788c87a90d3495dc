import { age, troubled, useBackup } from "../lib/backup";
import { Note } from "../ui/field";

// LastBackup says how old the last proved backup is, and loudly so when it is
// three days or the last try failed. A notebook that makes none says nothing.
export function LastBackup() {
  const b = useBackup();
  if (!b) return null;
  const said = b.last ? `Last proved backup: ${age(b.hours)} ago.` : b.state === "none" ? "The first backup is being made." : "There is no proved backup.";
  if (troubled(b)) return <Note kind="bad"><p><strong>{said}</strong> {b.hint ?? "On the machine that runs the notebook, run: tautline doctor"}</p></Note>;
  return <p class="doubt below">{said} {b.hint}</p>;
}
