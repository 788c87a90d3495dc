import { useRef, useState } from "preact/hooks";
import { readBowFile, type NewBow } from "./newdraft";

// FileButton reads a bow file into the form of a new bow.
export function FileButton({ onRead }: { onRead: (next: NewBow) => void }) {
  const input = useRef<HTMLInputElement>(null);
  const [error, setError] = useState("");
  const take = async (file: File | undefined) => {
    if (!file) return;
    setError("");
    try {
      onRead(await readBowFile(file));
    } catch (e) {
      setError(e instanceof Error ? e.message : String(e));
    }
  };
  return (
    <>
      <input ref={input} class="visually-hidden" type="file" accept=".json,application/json" id="bow-file" tabIndex={-1} aria-label="Bow file"
        onChange={(e) => { void take(e.currentTarget.files?.[0]); e.currentTarget.value = ""; }} />
      <button type="button" onClick={() => input.current?.click()}>Choose a bow file</button>
      {error && <p class="error" role="alert">{error}</p>}
    </>
  );
}
