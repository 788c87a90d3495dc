import { useEffect, useRef, useState } from "preact/hooks";

// Play plays a piece of sound by one button; pressed again it begins anew.
export function Play({ src, label }: { src: string; label: string }) {
  const audio = useRef<HTMLAudioElement | null>(null);
  const [state, setState] = useState<"" | "loading" | "playing" | "failed">("");
  useEffect(() => () => audio.current?.pause(), []);
  const play = () => {
    audio.current?.pause();
    const made = new Audio(src);
    audio.current = made;
    setState("loading");
    made.onended = () => setState("");
    made.play().then(() => setState("playing"), () => { if (audio.current === made) setState("failed"); });
  };
  return (
    <>
      <button type="button" onClick={play}>{state === "loading" ? "Loading …" : state === "playing" ? "Playing …" : label}</button>
      {state === "failed" && <span role="status" class="error">It cannot be played: the notebook does not answer, or this browser has no sound.</span>}
    </>
  );
}
