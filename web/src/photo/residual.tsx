import { useComma, useMe } from "../lib/me";
import { number } from "../lib/words";
import { Note } from "../ui/field";
import type { Photo } from "./state";

// Residual says how far the ring's places lie from their rings, and what that
// number does not know.
export function Residual({ photo }: { photo: Photo }) {
  const words = useMillimetres(), found = photo.found;
  if (!found) return null;
  const rough = found.residual > 0.003;
  return (
    <Note kind={rough ? "warn" : ""}>
      <p class="num" data-residual={found.residual}>The rings fit the picture to ± {words(found.residual)} (standard deviation of {found.used} places on rings{found.left > 0 ? `, ${found.left} left out` : ""}).</p>
      <p class="small">{rough ? "That is rough: paper that is not flat, a lens that bends lines, or rings mistaken. Look at the rings again, or take the picture from further away." : "It does not know how exactly a hole is tapped, nor paper that bulges: tap where the shaft enters the paper."}</p>
    </Note>
  );
}

// useMillimetres writes a small length in millimetres, with inches beside it
// for who reads the face in inches.
function useMillimetres(): (m: number) => string {
  const comma = useComma(), inches = useMe().me?.unit_symbols.impact === "in";
  return (m) => `${number(1000 * m, 1, comma)} mm${inches ? ` (${number(m / 0.0254, 2, comma)} in)` : ""}`;
}
