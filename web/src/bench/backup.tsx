import { useGet } from "../lib/load";
import { Note } from "../ui/field";

interface Backup { state: "fresh" | "none" | "old" | "failed"; last?: string; hours: number; hint?: string }

const age = (hours: number): string => {
  if (hours < 2) return `${Math.round(hours * 60)} minutes ago`;
  return hours < 48 ? `${Math.round(hours)} hours ago` : `${Math.floor(hours / 24)} days ago`;
};

// LastBackup says how old the last proved backup is, and loudly so when it is
// three days or the last try failed. A notebook that makes none says nothing.
export function LastBackup() {
  const health = useGet<{ backup?: Backup }>("/health");
  const b = health.value?.backup;
  if (!b) return null;
  const said = b.last ? `Last proved backup: ${age(b.hours)}.` : b.state === "none" ? "The first backup is being made." : "There is no proved backup.";
  if (b.state === "old" || b.state === "failed") return <Note kind="bad"><p><strong>{said}</strong> {b.hint}</p></Note>;
  return <p class="doubt below">{said} {b.hint}</p>;
}
