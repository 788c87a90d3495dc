// Meter shows how loud it is now, in dB below full scale, as a bar and a
// number; the number is for the eye, not read out ten times a second.
export function Meter({ level, peak }: { level: number; peak: number }) {
  const db = (v: number) => Math.max(-60, 20 * Math.log10(Math.max(v, 1e-4)));
  const share = (v: number) => `${Math.round((100 * (db(v) + 60)) / 60)}%`;
  const hot = peak >= 0.999;
  return (
    <div class="meter" aria-hidden="true">
      <div class="meter-bar"><span class="rms" style={{ width: share(level) }} /><span class={hot ? "peak hot" : "peak"} style={{ left: share(peak) }} /></div>
      <span class="num">{db(peak) <= -60 ? "quiet" : `${Math.round(db(peak))} dB`}</span>
    </div>
  );
}
