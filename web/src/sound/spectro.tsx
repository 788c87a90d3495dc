import { useGet } from "../lib/load";
import { useComma } from "../lib/me";
import { number } from "../lib/words";
import { Waits, Wrong } from "../ui/states";
import { useCanvas } from "./canvas";
import type { Spectrogram } from "./types";
import type { Span } from "./wave";

// Spectro draws level over time and frequency: dark is quiet, bright is loud,
// and the words below say where it is loudest.
export function Spectro({ recording, span }: { recording: string; span: Span }) {
  const got = useGet<Spectrogram>(`/recordings/${recording}/spectrogram?from=${span.from.toFixed(3)}&to=${span.to.toFixed(3)}`);
  const comma = useComma();
  const d = got.value;
  const { ref } = useCanvas(200, (c, w) => { if (d) paint(c, w, 200, d, span); }, [d, span.from, span.to]);
  return (
    <figure class="spectro">
      <h3>Spectrogram</h3>
      <div><canvas ref={ref} style={{ height: "200px" }} role="img" aria-label={d ? `Level over time and frequency. ${loudest(d, comma)}` : "Spectrogram"} /></div>
      {!d && (got.problem ? <Wrong problem={got.problem} again={got.again} /> : <Waits what="Computing …" />)}
      {d && <p class="doubt">{loudest(d, comma)} Up to {Math.round((d.rows * d.step_hz) / 1000)} kHz; the strongest tone is brightest, 60 dB below it all is dark.</p>}
    </figure>
  );
}

function bytes(d: Spectrogram): Uint8Array {
  return Uint8Array.from(atob(d.levels), (c) => c.charCodeAt(0));
}

function loudest(d: Spectrogram, comma: boolean): string {
  const b = bytes(d);
  const least = Math.ceil(50 / d.step_hz); // below is wind and handling
  let at = least;
  for (let i = 0; i < b.length; i++) if (i % d.rows >= least && b[i]! > b[at]!) at = i;
  const t = d.from_s + Math.floor(at / d.rows) * d.step_s, f = (at % d.rows) * d.step_hz;
  return `Loudest at ${number(t, 3, comma)} s around ${Math.round(f)} Hz.`;
}

// paint maps levels to brightness, the same in every theme.
function paint(c: CanvasRenderingContext2D, width: number, height: number, d: Spectrogram, span: Span): void {
  const b = bytes(d), image = new ImageData(d.columns, d.rows);
  const top = b.reduce((m, v) => Math.max(m, v), 0), low = Math.max(0, top - 60 / d.db_per_step);
  for (let i = 0; i < d.columns; i++) {
    for (let k = 0; k < d.rows; k++) {
      const v = Math.max(0, (b[i * d.rows + k]! - low) / Math.max(1, top - low)), at = 4 * ((d.rows - 1 - k) * d.columns + i);
      image.data[at] = 255 * Math.min(1, 1.6 * v * v);
      image.data[at + 1] = 255 * v;
      image.data[at + 2] = 255 * Math.min(1, 0.25 + 0.75 * v);
      image.data[at + 3] = 255;
    }
  }
  const small = new OffscreenCanvas(d.columns, d.rows);
  small.getContext("2d")!.putImageData(image, 0, 0);
  const x = (t: number) => ((t - span.from) / (span.to - span.from)) * width;
  c.fillStyle = "#000040";
  c.fillRect(0, 0, width, height);
  c.imageSmoothingEnabled = false;
  c.drawImage(small, x(d.from_s - d.step_s / 2), 0, x(d.from_s + (d.columns - 0.5) * d.step_s) - x(d.from_s - d.step_s / 2), height);
  c.font = "14px system-ui, sans-serif";
  c.textBaseline = "middle";
  const highest = d.rows * d.step_hz;
  for (let khz = 2; khz * 1000 < highest; khz += highest > 9000 ? 4 : 2) {
    const y = height - (height * khz * 1000) / highest;
    c.fillStyle = "#000040";
    c.fillRect(0, y - 9, 56, 18);
    c.fillStyle = "#ffffff";
    c.fillText(`${khz} kHz`, 4, y);
    c.fillRect(58, y, 6, 1);
  }
}
