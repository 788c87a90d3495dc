import type { ComponentType } from "preact";
import { useEffect, useState } from "preact/hooks";
import { Note } from "../ui/field";
import { Waits } from "../ui/states";

// lazy is a page that is loaded when it is first opened, so that the bench
// stays small on a slow phone. Once loaded, the service worker keeps it.
export function lazy<P extends object>(load: () => Promise<ComponentType<P>>): ComponentType<P> {
  let held: ComponentType<P> | undefined;
  return function Lazy(props: P) {
    const [Page, set] = useState<{ of?: ComponentType<P>; failed?: boolean }>({ of: held });
    const [turn, again] = useState(0);
    useEffect(() => {
      if (held) return set({ of: held });
      let gone = false;
      load().then((page) => { held = page; if (!gone) set({ of: page }); }, () => { if (!gone) set({ failed: true }); });
      return () => { gone = true; };
    }, [turn]);
    if (Page.of) return <Page.of {...props} />;
    if (!Page.failed) return <Waits what="Opening the page…" />;
    return (
      <Note kind="bad">
        <p>This page is not on this device yet, and the notebook does not answer.</p>
        <button type="button" onClick={() => { set({}); again((n) => n + 1); }}>Try once more</button>
      </Note>
    );
  };
}
