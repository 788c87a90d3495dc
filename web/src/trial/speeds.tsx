import { useUnderstood } from "../ui/field";
import { Field } from "../ui/field";
import { bothScales } from "../lib/words";
import { useComma, useMe } from "../lib/me";
import { several } from "./words";

// Speeds takes one chronograph reading or several with semicolons between.
export function Speeds({ value, onInput, error }: { value: string; onInput: (v: string) => void; error?: string }) {
  const list = several(value);
  const { parsed, error: unread } = useUnderstood("speed", "speed", list.at(-1) ?? "");
  const comma = useComma(), unit = useMe().me?.unit_symbols.speed;
  const other = parsed && bothScales(parsed, comma);
  const says = parsed && `Understood as ${list.length > 1 ? `${list.length} shots, the last ` : ""}${parsed.text}${other ? ` (${other})` : ""}`;
  return (
    <Field label="Arrow speed" value={value} onInput={onInput} error={unread ?? error} says={says} name="speed" placeholder={unit}
      help="From a chronograph; several shots with ; between them." />
  );
}
