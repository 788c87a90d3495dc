import type { ComponentChildren } from "preact";
import type { Problem } from "../lib/http";
import { sentence } from "../lib/http";
import type { Loaded } from "../lib/load";
import { useMe } from "../lib/me";
import { capital, when } from "../lib/words";
import { Note } from "./field";

// What a page shows instead of its answer: that it waits, or what went wrong
// and what to try.

export function Waits({ what }: { what: string }) {
  return <p class="waits" role="status">{what}</p>;
}

export function Wrong({ problem, again }: { problem: Problem; again?: () => void }) {
  return (
    <Note kind="bad">
      <p><strong>{problem.message}</strong></p>
      {problem.fields.length > 0 ? <ul>{problem.fields.map((f) => <li key={f.field}>{sentence(f)}</li>)}</ul> : problem.hint && <p>{capital(problem.hint)}</p>}
      {problem.status === 404 ? <a class="button" href="/">To the bench</a> : again && <button type="button" onClick={again}>Try once more</button>}
    </Note>
  );
}

// Answer shows a loaded value, with a word when the notebook has since gone
// quiet; within another answer it is quiet itself. The word stays as it is
// while it stands: nothing below it may move under a finger. Where it is the
// whole page, title is its heading as long as there is nothing else. What waits
// to know who reads waits for nothing when that cannot be told.
export function Answer<T>({ of, what, quiet, title, children }: { of: Loaded<T>; what: string; quiet?: boolean; title?: string; children: (value: T) => ComponentChildren }) {
  const reader = useMe();
  const wrong = of.problem ? of : of.key === null && reader.problem ? reader : undefined;
  if (of.value === undefined) return wrong?.problem ? <>{title && <h1>{title}</h1>}<Wrong problem={wrong.problem} again={wrong.again} /></> : <Waits what={what} />;
  return (
    <>
      {!quiet && (of.problem?.offline || of.seen) && <Note kind="warn">The notebook does not answer just now. What you see is as it was{of.seen && ` ${when(of.seen)}`}; what you note is kept on this device.</Note>}
      {children(of.value)}
    </>
  );
}
