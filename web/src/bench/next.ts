import type { BowView } from "../lib/types";

// nextPage says where the next thing to do is done.
export function nextPage(v: BowView): { href: string; label: string } {
  const bow = `/bows/${v.bow.id}`;
  switch (v.next.code) {
    case "enter-settings": return { href: `${bow}/change`, label: "Enter settings" };
    case "enter-range": return { href: `${bow}/change?pick=range`, label: "Enter the range" };
    case "leave-range": return { href: `${bow}/change?pick=brace`, label: "Change the brace height" };
    case "plan-trial": return { href: `${bow}/trial`, label: "Plan a trial" };
    case "go-on": return { href: `/trials/${v.open_trial?.id ?? ""}`, label: "Go on" };
    case "read-verdict": return { href: `/trials/${v.last_trial?.id ?? ""}?view=verdict`, label: "Read the verdict" };
    case "measure-brace":
    case "check-brace": return { href: `${bow}?note=brace_height`, label: "Note a reading" };
  }
  return { href: bow, label: "Open" };
}
