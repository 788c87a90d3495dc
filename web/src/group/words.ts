import { useComma, useMe } from "../lib/me";
import { number } from "../lib/words";
import type { Place } from "./geometry";

// How lengths on the face are written: in the unit this person reads them in.

export function faceLength(m: number, unit: string, comma: boolean): string {
  if (unit === "in") return `${number(m / 0.0254, 1, comma)} in`;
  if (unit === "mm") return `${number(m * 1000, 0, comma)} mm`;
  return `${number(m * 100, 1, comma)} cm`;
}

// useFaceLength writes a length on the face for this person.
export function useFaceLength(): (m: number) => string {
  const unit = useMe().me?.unit_symbols.impact ?? "cm", comma = useComma();
  return (m) => faceLength(m, unit, comma);
}

// usePlaceWords says where a place is: "3.2 cm right, 1.5 cm low".
export function usePlaceWords(): (p: Place) => string {
  const length = useFaceLength();
  return (p) => `${length(Math.abs(p.x))} ${p.x >= 0 ? "right" : "left"}, ${length(Math.abs(p.y))} ${p.y >= 0 ? "high" : "low"}`;
}
