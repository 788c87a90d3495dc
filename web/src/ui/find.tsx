import { useId } from "preact/hooks";

// manyBows is how many bows ask for a field to find one in.
export const manyBows = 10;

// unfolded is up to how many bows their archers stand unfolded.
export const unfolded = 60;

// Find narrows a list of bows by what is typed.
export function Find({ value, onInput, shown, of }: { value: string; onInput: (v: string) => void; shown: number; of: number }) {
  const id = useId();
  return (
    <search class="field find">
      <label for={id}>Find a bow or an archer</label>
      <input id={id} type="search" name="find" value={value} autocomplete="off" autocapitalize="off" spellcheck={false} enterKeyHint="search"
        onInput={(e) => onInput(e.currentTarget.value)} onKeyDown={(e) => { if (e.key === "Escape") onInput(""); }} />
      <p class="says" role="status">{value.trim() === "" ? "" : shown === 0 ? `None of ${of} bows is called so.` : `${shown} of ${of} bows`}</p>
    </search>
  );
}
