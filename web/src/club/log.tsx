import { useState } from "preact/hooks";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { Person, Rows } from "../lib/types";
import { Answer } from "../ui/states";
import { day } from "./form";

interface Entry { seq: number; at: string; actor: string; what: string; target: string; from: string; status: number }

// LogPage is who did what, newest first, for the owner of the notebook.
export function LogPage() {
  useTitle("Who did what");
  const [before, setBefore] = useState(0);
  const log = useGet<Rows<Entry>>(`/audit?limit=100${before ? `&before=${before}` : ""}`);
  const people = useGet<Rows<Person>>("/people");
  const name = (id: string, from: string) => (id ? people.value?.rows.find((p) => p.id === id)?.name ?? id.slice(-6) : from.startsWith("command line") ? "whoever has the machine" : "nobody known");
  return (
    <>
      <p class="crumb"><a href="/people">People</a></p>
      <h1>Who did what</h1>
      <p class="help">Changes, logins, refusals and looks, the same look once an hour. It names records and people by their id, never what was written.</p>
      <Answer of={log} what="Reading the log…">
        {(l) => (
          <>
            <div class="scroll" tabIndex={0} role="region" aria-label="Log">
              <table>
                <thead><tr><th scope="col">When</th><th scope="col">Who</th><th scope="col">What</th><th scope="col">Answer</th><th scope="col">From</th></tr></thead>
                <tbody>{l.rows.map((e) => <tr key={e.seq}><td>{day(e.at)}</td><td>{name(e.actor, e.from)}</td><td>{e.what.replace("/api/v1", "")}</td><td>{e.status}</td><td>{e.from}</td></tr>)}</tbody>
              </table>
            </div>
            <div class="row">
              {before > 0 && <button type="button" onClick={() => setBefore(0)}>Newest</button>}
              {l.rows.length === 100 && <button type="button" onClick={() => setBefore(l.rows[99]!.seq)}>Older</button>}
            </div>
          </>
        )}
      </Answer>
    </>
  );
}
