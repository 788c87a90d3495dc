import type { ComponentChildren } from "preact";
import { useId } from "preact/hooks";

// A field shows its label, an example, what the program understood, and its
// error right beside it.
interface FieldProps {
  label: string; value: string; onInput: (v: string) => void;
  help?: string; error?: string; says?: string; hint?: string; name?: string;
  required?: boolean; inputMode?: "text" | "decimal" | "numeric"; placeholder?: string; autofocus?: boolean;
}

export function Field(p: FieldProps) {
  const id = useId();
  const about = [p.help && `${id}h`, p.error && `${id}e`, p.says && `${id}s`].filter(Boolean).join(" ");
  return (
    <div class="field">
      <label for={id}>{p.label}{p.required ? "" : <span class="faint"> (optional)</span>}</label>
      {p.help && <p class="help" id={`${id}h`}>{p.help}</p>}
      <input
        id={id} name={p.name} value={p.value} placeholder={p.placeholder} inputMode={p.inputMode ?? "text"} autocomplete="off"
        autocapitalize="off" spellcheck={false} aria-invalid={p.error ? "true" : undefined} aria-describedby={about || undefined}
        aria-required={p.required} onInput={(e) => p.onInput(e.currentTarget.value)}
      />
      {p.error && <p class="error" id={`${id}e`}>{p.error}{p.hint ? ` ${p.hint}` : ""}</p>}
      {!p.error && p.says && <p class="says" id={`${id}s`}>{p.says}</p>}
    </div>
  );
}

export function Choice<T extends string>(p: { label: string; value: T; options: [T, string][]; onInput: (v: T) => void; help?: string }) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{p.label}</label>
      {p.help && <p class="help">{p.help}</p>}
      <select id={id} value={p.value} onChange={(e) => p.onInput(e.currentTarget.value as T)}>
        {p.options.map(([v, text]) => <option key={v} value={v}>{text}</option>)}
      </select>
    </div>
  );
}

export function Note({ kind = "", children }: { kind?: "" | "warn" | "bad"; children: ComponentChildren }) {
  return <div class={`note ${kind}`} role={kind === "bad" ? "alert" : undefined}>{children}</div>;
}

export function Facts({ rows }: { rows: [string, ComponentChildren][] }) {
  return <dl class="facts">{rows.map(([k, v]) => [<dt key={k}>{k}</dt>, <dd key={k + "v"}>{v}</dd>])}</dl>;
}
