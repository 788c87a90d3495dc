import { colourOf, dashOf, isHollow, outline, type Look } from "./looks";

// Marked is a series' shape at a place of a drawing.
export function Marked({ look, i, x, y, r }: { look: Look; i: number; x: number; y: number; r: number }) {
  if (!look.shape) return null;
  const colour = `var(${colourOf(i)})`;
  return <path d={outline(look.shape, x, y, r)} style={isHollow(look) ? { fill: "none", stroke: colour, strokeWidth: r / 2 } : { fill: colour, stroke: "none" }} />;
}

// Swatch is a series in a legend: its line, its shape, or both.
export function Swatch({ look, i }: { look: Look; i: number }) {
  return (
    <svg viewBox="0 0 40 16" aria-hidden="true" data-look={`${look.dash ?? ""} ${look.shape ?? ""}`}>
      {look.dash && <path d="M1 8H39" style={{ fill: "none", stroke: `var(${colourOf(i)})`, strokeWidth: 2.6, strokeDasharray: dashOf(look, 2.6).join(" ") || "none" }} />}
      <Marked look={look} i={i} x={20} y={8} r={5.5} />
    </svg>
  );
}
