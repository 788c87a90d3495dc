// What a round reads on every bow, in the order of the square's way over it.
export const kinds = [
  { kind: "brace_height", label: "Brace height" },
  { kind: "nocking_point", label: "Nocking point" },
  { kind: "tiller", label: "Tiller" },
] as const;

export type Kind = (typeof kinds)[number]["kind"];
