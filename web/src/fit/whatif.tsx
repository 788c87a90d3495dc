import { useState } from "preact/hooks";
import { api, post } from "../lib/http";
import { changeLink } from "../standing/link";
import { Computing, usePolled } from "../standing/poll";
import { Choice, Field, Note } from "../ui/field";
import { Answer } from "../ui/states";
import { Effects } from "./effects";
import type { WhatIf } from "./types";

// What is most often moved, with an example of how it is typed.
const movable: [string, string, string][] = [
  ["brace_height.value", "brace height", "22.8 cm"], ["button.turns", "button, turns", "3"], ["centre_shot", "centre shot", "2 mm"],
  ["nocking_point.value", "nocking point", "9 mm"], ["rest.height", "rest height above the pivot", "41 mm"], ["hook_below", "fingers' pull below the nocking point", "8 mm"], ["tiller", "tiller", "4 mm"],
  ["arrow.spine", "static spine", "550"], ["arrow.point_mass", "point mass", "120 gr"], ["arrow.mass", "whole arrow's mass", "340 gr"], ["draw.weight", "draw weight", "42 lbf"],
];

// WhatIfCard says what one moved setting does on this bow.
export function WhatIfCard({ id, units }: { id: string; units: string | null }) {
  const [key, setKey] = useState("brace_height.value");
  const [text, setText] = useState("");
  const [asked, setAsked] = useState<Record<string, string>>();
  const set = asked && JSON.stringify(asked);
  const of = usePolled<WhatIf>(units && set ? `${id}|${units}|${set}` : null, (signal) => post<WhatIf>(`${api}/bows/${id}/whatif`, { set: asked }, signal));
  const example = movable.find((m) => m[0] === key)![2];
  return (
    <section class="card">
      <h2>What would it do here?</h2>
      <form noValidate onSubmit={(e) => { e.preventDefault(); if (text.trim()) setAsked({ [key]: text.trim() }); }}>
        <Choice label="Move" value={key} options={movable.map((m): [string, string] => [m[0], m[1]])} onInput={(k) => { setKey(k); setText(""); setAsked(undefined); }} />
        <Field label="To" name="whatif" value={text} onInput={setText} placeholder={example} help={`Like ${example}.`} />
        <button type="submit">Say what it does</button>
      </form>
      {set && (
        <Answer of={of} what="Computing the change…">
          {(w) => (w.state === "computing" ? <Computing of={w} what="Computing the change…" /> : (
            <>
              <Effects list={w.effects} label="What the change moves" />
              {!w.height_in_window && w.height_window_reason && <Note>The height of a bare shaft cannot be told: {w.height_window_reason}.</Note>}
              {!w.in_window && <Note>After the change a bare shaft would not tell stiff from weak: {w.window_reason}.</Note>}
              {w.warnings.map((x) => <Note key={x} kind="warn">{x}</Note>)}
              <a class="button" href={changeLink(id, asked)}>Make this change</a>
            </>
          ))}
        </Answer>
      )}
    </section>
  );
}
