import type { Shown } from "./types";

// when writes a moment the way people say it, in the device's own language of
// dates.
export function when(at: string, now: Date = new Date()): string {
  const then = new Date(at), time = clock(at);
  const days = Math.round((midnight(now) - midnight(then)) / 86_400_000);
  if (days === 0) return `today, ${time}`;
  if (days === 1) return `yesterday, ${time}`;
  return then.toLocaleDateString([], { day: "numeric", month: "long", year: "numeric" });
}

// clock is the time of day.
export const clock = (at: string): string => new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

// day is a date in few letters: 12 Nov.
export const day = (at: string): string => new Date(at).toLocaleDateString([], { day: "numeric", month: "short" });

// ago says how long since a moment, in the largest unit that fits.
export function ago(at: string, now: Date = new Date()): string {
  const minutes = Math.max(0, Math.round((now.getTime() - new Date(at).getTime()) / 60_000));
  const [n, unit] = minutes < 90 ? [minutes, "minute"] : minutes < 36 * 60 ? [Math.round(minutes / 60), "hour"] : [Math.round(minutes / 1440), "day"];
  return n === 0 ? "just now" : `${n} ${unit}${n === 1 ? "" : "s"} ago`;
}

const midnight = (d: Date) => new Date(d.getFullYear(), d.getMonth(), d.getDate()).getTime();

export const capital = (s: string) => s.charAt(0).toUpperCase() + s.slice(1);

export const number = (v: number, digits: number, comma: boolean): string => {
  const s = v.toFixed(digits);
  return comma ? s.replace(".", ",") : s;
};

// bothScales shows a quantity in the other unit people use for it, so that a
// slip of units is seen at once; "" where there is no second one.
export function bothScales(s: Shown, comma: boolean): string {
  switch (s.unit) {
    case "m":
      if (s.si >= 5) return s.text.endsWith("yd") ? `${number(s.si, 1, comma)} m` : `${number(s.si / 0.9144, 1, comma)} yd`; // a distance to shoot at
      return s.text.endsWith("in") || s.text.endsWith('"') ? `${number(s.si * 100, 1, comma)} cm` : `${number(s.si / 0.0254, 2, comma)} in`;
    case "N":
      return s.text.includes("lbf") ? `${number(s.si, 0, comma)} N` : `${number(s.si / 4.4482216152605, 1, comma)} lbf`; // exact: 0.45359237 kg times 9.80665 m/s²
    case "kg":
      return s.text.includes("gr") ? `${number(s.si * 1000, 2, comma)} g` : `${number(s.si / 6.479891e-5, 0, comma)} gr`; // exact grain
  }
  return "";
}

// metres writes a length for the notebook so that neither decimal mark can
// misread it.
export const metres = (v: number): string => `${Math.round(v * 1e6)}e-6 m`;
