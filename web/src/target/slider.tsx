import { useEffect, useId, useState } from "preact/hooks";
import { capital, number } from "../lib/words";
import type { Move } from "./types";

// Slider moves one thing: by thumb, by one step with a button, or typed with
// its unit. The typed text is what is kept and sent; the thumb only writes it.

interface Props {
  move: Move; text: string; onText: (text: string) => void; comma: boolean; help?: string; error?: string;
}

export function Slider({ move: m, text, onText, comma, help, error }: Props) {
  const id = useId();
  const at = placeOf(m, text);
  const write = (v: number) => onText(Math.abs(v - m.start) < m.step / 1000 ? "" : withUnit(m, v, comma));
  const step = (by: number) => write(Math.min(m.high, Math.max(m.low, m.start + m.step * Math.round((at - m.start) / m.step + by))));
  const about = [help && `${id}h`, error && `${id}e`].filter(Boolean).join(" ") || undefined;
  return (
    <div class={error ? "field move wrong" : text ? "field move moved" : "field move"} data-field={m.name}>
      <div class="move-head">
        <label for={id}>{capital(m.label)}{m.assumed && <span class="faint optional"> (assumed)</span>}</label>
        {text && <button type="button" class="link" onClick={() => onText("")}>Back to {m.text}<span class="visually-hidden"> for {m.label}</span></button>}
      </div>
      {help && <p class="help" id={`${id}h`}>{help}</p>}
      <div class="move-row">
        <button type="button" class="quiet" aria-label={`Less ${m.label}`} disabled={at <= m.low} onClick={() => step(-1)}>−</button>
        <TypedText id={id} m={m} text={text} onText={onText} comma={comma} about={about} wrong={error !== undefined} />
        <button type="button" class="quiet" aria-label={`More ${m.label}`} disabled={at >= m.high} onClick={() => step(1)}>+</button>
      </div>
      <input
        type="range" aria-label={`${m.label}, slider`} aria-valuetext={withUnit(m, at, comma)} min={m.low} max={m.high} step={m.step} value={Math.min(m.high, Math.max(m.low, at))}
        onInput={(e) => write(e.currentTarget.valueAsNumber)}
      />
      {error && <p class="error" id={`${id}e`}>{error}</p>}
    </div>
  );
}

// TypedText shows what stands, and while it has the cursor what is typed.
function TypedText({ id, m, text, onText, comma, about, wrong }: { id: string; m: Move; text: string; onText: (t: string) => void; comma: boolean; about?: string; wrong: boolean }) {
  const [typing, setTyping] = useState<string | null>(null);
  useEffect(() => { if (document.activeElement?.id !== id) setTyping(null); }, [text]);
  return (
    <input
      id={id} name={m.name} type="text" autocomplete="off" autocapitalize="off" spellcheck={false}
      value={typing ?? (text || m.text)} aria-describedby={about} aria-invalid={wrong ? "true" : undefined}
      onFocus={(e) => { setTyping(text || m.text); e.currentTarget.select(); }}
      onInput={(e) => { const v = e.currentTarget.value; setTyping(v); onText(v.trim() === m.text ? "" : v); }}
      onBlur={() => setTyping(null)}
    />
  );
}

// withUnit writes a number of the slider the way the person writes it.
export const withUnit = (m: Move, v: number, comma: boolean): string => `${number(v, m.digits, comma)} ${m.unit}`.trim();

// placeOf is where the thumb stands for a text: what the slider itself wrote
// is known at once, anything else as the notebook understood it.
function placeOf(m: Move, text: string): number {
  if (text.trim() === "") return m.start;
  const own = /^([+-]?\d+(?:[.,]\d+)?)\s*(\D*)$/.exec(text.trim());
  if (own && (own[2]!.trim() === m.unit || own[2]!.trim() === "")) return Number(own[1]!.replace(",", "."));
  return m.at;
}
