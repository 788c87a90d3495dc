import type { ComponentChildren } from "preact";
import { useRef, useState } from "preact/hooks";
import { copyText, tableText } from "../lib/copy";

// CopyTable is a table that scrolls inside its card, with a button that copies
// it as it stands, for a spreadsheet or a message.
export function CopyTable({ label, box = "", children }: { label: string; box?: string; children: ComponentChildren }) {
  const ref = useRef<HTMLDivElement>(null);
  const [said, say] = useState("");
  const copy = async () => {
    const table = ref.current?.querySelector("table");
    if (!table) return;
    say(await copyText(tableText(table)) ? `Copied, ${table.tBodies[0]?.rows.length ?? 0} lines.` : "This browser lets nothing be copied: select the table by hand.");
  };
  return (
    <>
      <div class={`scroll ${box}`} tabIndex={0} role="region" aria-label={label} ref={ref}>{children}</div>
      <p class="row no-print copy-table"><button type="button" class="quiet" aria-label={`Copy the table: ${label}`} onClick={() => void copy()}>Copy the table</button><span role="status" class="small">{said}</span></p>
    </>
  );
}
