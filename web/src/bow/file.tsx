import { useRef, useState } from "preact/hooks";
import type { Tree } from "../lib/types";
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

// saveBowFile gives a set-up's settings, as typed, to be kept as a file. The
// command line reads the same: tautline predict BOW.json.
export function saveBowFile(name: string, settings: Tree): void {
  const url = URL.createObjectURL(new Blob([JSON.stringify(settings, null, 2) + "\n"], { type: "application/json" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = `${name.trim().replaceAll(/[^\p{L}\p{N}]+/gu, "-").toLowerCase() || "bow"}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}
