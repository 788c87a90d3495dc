import { useEffect } from "preact/hooks";
import { dismiss, hold, limit, undoNow, useOffer, type Offer } from "../lib/undo";

// UndoBar is what was just done, with its undo and the time that is left for
// it. The clock stands still while it is pointed at or has the focus; Ctrl and
// Z do the same from anywhere but a text.
export function UndoBar() {
  const offer = useOffer();
  useEffect(() => {
    const press = (e: KeyboardEvent) => {
      const at = e.target as Element | null;
      if (e.key !== "z" || !(e.ctrlKey || e.metaKey) || e.shiftKey || e.defaultPrevented || at?.closest("input, textarea, select, [contenteditable]")) return;
      void undoNow();
    };
    document.addEventListener("keydown", press);
    return () => document.removeEventListener("keydown", press);
  }, []);
  return (
    <>
      <span class="visually-hidden" role="status">{offer && spoken(offer)}</span>
      {offer && (
        <section class="undo no-print" aria-label="Just done" onPointerEnter={() => hold(true)} onPointerLeave={() => hold(false)} onFocusIn={() => hold(true)} onFocusOut={() => hold(false)}>
          <p>{words(offer)}</p>
          {(offer.state === "open" || offer.state === "failed") && (
            <button type="button" onClick={() => void undoNow()}>{offer.state === "open" ? "Undo" : "Try once more"}{offer.state === "open" && <span class="num left" aria-hidden="true">{offer.left} s</span>}</button>
          )}
          {offer.state === "failed" && <button type="button" class="quiet" onClick={dismiss}>Leave it</button>}
          {offer.state === "open" && <span class="undo-time" style={{ width: `${(100 * offer.left) / limit}%` }} aria-hidden="true" />}
        </section>
      )}
    </>
  );
}

function words(o: Offer): string {
  switch (o.state) {
    case "open": return o.said;
    case "undoing": return o.of ? `Undoing: ${o.n} of ${o.of}` : "Undoing…";
    case "undone": return o.undone;
    case "failed": return `Not undone. ${o.why}`;
  }
}

const spoken = (o: Offer): string => (o.state === "open" ? `${o.said} Undo within ${limit} seconds: the button at the end of the page, or Control and Z.` : o.state === "undoing" ? "" : words(o));
