import type { ComponentChildren } from "preact";
import { useEffect, useId, useState } from "preact/hooks";
import { api, post, Problem, sentence } from "../lib/http";
import { useSettled } from "../lib/load";
import { useComma, useMe } from "../lib/me";
import type { ParsedText } from "../lib/types";
import { bothScales, capital } from "../lib/words";

// A field shows its label, an example, what the program understood, and its
// error right beside it.
interface FieldProps {
  label: string; value: string; onInput: (v: string) => void;
  help?: string; error?: string; hint?: string; says?: ComponentChildren; asks?: string; name?: string;
  required?: boolean; inputMode?: "text" | "decimal" | "numeric"; placeholder?: string; lines?: number;
  secret?: "current-password" | "new-password"; autocomplete?: "username" | "name" | "one-time-code"; onBlur?: () => void;
}

export function Field(p: FieldProps) {
  const id = useId();
  const about = [p.help && `${id}h`, p.error && `${id}e`, (p.says || p.asks) && `${id}s`].filter(Boolean).join(" ");
  const shared = {
    id, name: p.name, value: p.value, placeholder: p.placeholder, spellcheck: p.lines !== undefined,
    "aria-invalid": p.error ? ("true" as const) : undefined, "aria-describedby": about || undefined, "aria-required": p.required,
    onBlur: p.onBlur,
  };
  return (
    <div class={p.error ? "field wrong" : "field"} data-field={p.name}>
      <label for={id}>{p.label}{p.required ? "" : <span class="faint optional"> (optional)</span>}</label>
      {p.help && <p class="help" id={`${id}h`}>{p.help}</p>}
      {p.lines
        ? <textarea {...shared} rows={p.lines} onInput={(e) => p.onInput(e.currentTarget.value)} />
        : p.secret
          ? <input {...shared} type="password" autocomplete={p.secret} onInput={(e) => p.onInput(e.currentTarget.value)} />
          : <input {...shared} inputMode={p.inputMode ?? "text"} autocomplete={p.autocomplete ?? "off"} autocapitalize="off" onInput={(e) => p.onInput(e.currentTarget.value)} />}
      {p.error && <p class="error" id={`${id}e`}>{p.error}{p.hint ? ` ${p.hint}` : ""}</p>}
      {!p.error && (p.says || p.asks) && <div id={`${id}s`}>
        {p.says && <p class="says">{p.says}</p>}
        {p.asks && <p class="asks">{p.asks}</p>}
      </div>}
    </div>
  );
}

// useUnderstood reads what is being typed the way the notebook will, once the
// typing rests; it keeps quiet about an empty field.
export function useUnderstood(quantity: string, field: string | undefined, text: string): { parsed?: ParsedText; error?: string } {
  const person = useMe().me?.person;
  const key = `${quantity}|${text}|${person?.units}|${person?.decimal_comma}`;
  const [held, setHeld] = useState<{ key: string; parsed?: ParsedText; error?: string }>({ key: "" });
  useEffect(() => {
    if (text.trim() === "") return;
    const stop = new AbortController();
    const timer = setTimeout(() => {
      post<ParsedText>(`${api}/units/parse`, { quantity, field, text }, stop.signal).then(
        (parsed) => setHeld({ key, parsed }),
        (e: unknown) => {
          if (!(e instanceof Problem) || e.offline) return;
          const first = e.fields[0];
          setHeld({ key, error: first ? sentence(first) : e.message });
        },
      );
    }, 250);
    return () => { clearTimeout(timer); stop.abort(); };
  }, [key]);
  return held.key === key && text.trim() !== "" ? held : {};
}

// Quantity is a field for a number with its unit, as typed; under it stands
// what was understood, in both scales.
export function Quantity(p: FieldProps & { quantity: string; field?: string }) {
  const comma = useComma();
  const { parsed, error } = useUnderstood(p.quantity, p.field, p.value);
  // Half a number is not an error yet: wait until the typing rests or leaves.
  const [left, setLeft] = useState(true);
  const rests = useSettled(p.value, 900) === p.value || left;
  return (
    <Field
      {...p} onInput={(v) => { setLeft(false); p.onInput(v); }} onBlur={() => { setLeft(true); p.onBlur?.(); }}
      error={rests ? (error ?? p.error) : undefined} says={parsed && `Understood as ${understood(parsed, comma)}`}
      asks={parsed?.question && capital(parsed.question)}
    />
  );
}

function understood(p: ParsedText, comma: boolean): string {
  if (p.both) return p.both;
  const other = bothScales(p, comma);
  return other ? `${p.text} (${other})` : p.text;
}

export function Choice<T extends string>(p: { label: string; value: T; options: [T, string][]; onInput: (v: T) => void; help?: string; error?: string }) {
  const id = useId();
  const about = [p.help && `${id}h`, p.error && `${id}e`].filter(Boolean).join(" ");
  return (
    <div class={p.error ? "field wrong" : "field"}>
      <label for={id}>{p.label}</label>
      {p.help && <p class="help" id={`${id}h`}>{p.help}</p>}
      <select id={id} value={p.value} aria-describedby={about || undefined} aria-invalid={p.error ? "true" : undefined} onChange={(e) => p.onInput(e.currentTarget.value as T)}>
        {p.options.map(([v, text]) => <option key={v} value={v}>{text}</option>)}
      </select>
      {p.error && <p class="error" id={`${id}e`}>{p.error}</p>}
    </div>
  );
}

// Pick is a choice of a few, all in sight, each as wide as a thumb.
export function Pick<T extends string>(p: { label: string; value: T; options: [T, string, string?][]; onInput: (v: T) => void; help?: string }) {
  const id = useId();
  return (
    <fieldset class="pick">
      <legend>{p.label}</legend>
      {p.help && <p class="help">{p.help}</p>}
      {p.options.map(([v, text, more]) => (
        <label key={v} class={v === p.value ? "choice here" : "choice"}>
          <input type="radio" name={id} value={v} checked={v === p.value} onChange={() => p.onInput(v)} />
          <span>{text}{more && <span class="faint small"> {more}</span>}</span>
        </label>
      ))}
    </fieldset>
  );
}

export function Note({ kind = "", children }: { kind?: "" | "warn" | "bad"; children: ComponentChildren }) {
  return <div class={`note ${kind}`} role={kind === "bad" ? "alert" : undefined}>{children}</div>;
}

export function Facts({ rows }: { rows: [string, ComponentChildren][] }) {
  return <dl class="facts">{rows.map(([k, v]) => [<dt key={k}>{k}</dt>, <dd key={k + "v"}>{v}</dd>])}</dl>;
}
