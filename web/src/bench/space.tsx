import { useGet } from "../lib/load";
import { Note } from "../ui/field";

// LittleSpace says that the disk of the notebook's machine is nearly full,
// before it is.
export function LittleSpace() {
  const space = useGet<{ space?: { says: string; hint: string } }>("/health").value?.space;
  return space ? <Note kind="warn"><p><strong>{space.says}</strong> {space.hint}</p></Note> : null;
}
