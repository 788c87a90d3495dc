import type { ComponentChildren } from "preact";

// HelpLine leads to the place of the manual that tells how; a test looks that
// each is there (web/build/help_test.go).
export function HelpLine({ to, children }: { to: string; children: ComponentChildren }) {
  return <p class="small no-print"><a class="pad" href={`/help/${to}`}>{children}</a></p>;
}
