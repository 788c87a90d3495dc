// What a round reads on every bow, in the order of the square's way over it.
export const kinds = [
  { kind: "brace_height", label: "Brace height" },
  { kind: "nocking_point", label: "Nocking point" },
  { kind: "tiller", label: "Tiller" },
] as const;

export type Kind = (typeof kinds)[number]["kind"];

// Line is a reading as the round shows it: the latest of its kind.
export interface Line { shown: string; at: string }
export type LastRead = Partial<Record<Kind, Line>>;
