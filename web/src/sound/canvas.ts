import { useEffect, useRef, useState } from "preact/hooks";
import { useColours } from "../ui/chart";

// useCanvas draws on a canvas as wide as its place, sharp on any screen, and
// anew when what it shows, its size or the page's colours change.
export function useCanvas(height: number, draw: (c: CanvasRenderingContext2D, width: number, css: CSSStyleDeclaration) => void, shown: unknown[]) {
  const ref = useRef<HTMLCanvasElement>(null);
  const [width, setWidth] = useState(0);
  const colours = useColours();
  useEffect(() => {
    const el = ref.current?.parentElement;
    if (!el) return;
    const seen = new ResizeObserver(() => setWidth(el.clientWidth));
    seen.observe(el);
    setWidth(el.clientWidth);
    return () => seen.disconnect();
  }, []);
  useEffect(() => {
    const canvas = ref.current, c = canvas?.getContext("2d");
    if (!canvas || !c || width === 0) return;
    const sharp = devicePixelRatio || 1;
    canvas.width = Math.round(width * sharp);
    canvas.height = Math.round(height * sharp);
    c.setTransform(sharp, 0, 0, sharp, 0, 0);
    c.clearRect(0, 0, width, height);
    draw(c, width, getComputedStyle(canvas));
  }, [width, height, colours, ...shown]);
  return { ref, width };
}

export const colour = (css: CSSStyleDeclaration, name: string): string => css.getPropertyValue(name).trim();
