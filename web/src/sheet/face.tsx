// Face draws places on a target face for paper, seen from the shooting line;
// shapes and dashes tell apart what colour tells apart on the screen.
export interface Face {
  title: string; finding: string; rings_m: number[] | null; half_m: number; scale_m: number; scale_label: string; note?: string;
  places: { name: string; shape: string; right_m: number; up_m: number; low_right_m: number; high_right_m: number }[] | null;
  ellipses?: { right_m: number; up_m: number; major_m: number; minor_m: number; angle_deg: number; dashed?: boolean }[];
}

const R = 100; // half the picture

export function FacePicture({ face: f }: { face: Face }) {
  const k = R / f.half_m;
  return (
    <figure class="picture on-face">
      <svg viewBox={`${-R} ${-R} ${2 * R} ${2 * R}`} role="img" aria-label={`${f.title}. ${f.finding}`}>
        <rect class="wall" x={-R} y={-R} width={2 * R} height={2 * R} />
        {(f.rings_m ?? []).map((r) => <circle key={r} class="ring-line" r={r * k} />)}
        {(f.places ?? []).map((p, i) => (
          <g key={i}>
            {p.high_right_m > p.low_right_m && <path class="bar-line" d={`M${p.low_right_m * k} ${-p.up_m * k}H${p.high_right_m * k}`} />}
            {p.shape === "diamond" ? <path class="place full" d={`M${p.right_m * k} ${-p.up_m * k - 4}l4 4l-4 4l-4 -4z`} /> : <circle class={p.shape === "dot" ? "place full" : "place"} cx={p.right_m * k} cy={-p.up_m * k} r="2.6" />}
          </g>
        ))}
        {(f.ellipses ?? []).map((e, i) => <ellipse key={i} class={e.dashed ? "shape dashed" : "shape"} rx={e.major_m * k} ry={e.minor_m * k} transform={`translate(${e.right_m * k} ${-e.up_m * k}) rotate(${-e.angle_deg})`} />)}
        {f.scale_m > 0 && <g><path class="shape" d={`M${-R + 6} ${R - 6}h${f.scale_m * k}`} /><text x={-R + 6} y={R - 10}>{f.scale_label}</text></g>}
      </svg>
      {f.note && <figcaption class="doubt">{f.note}</figcaption>}
    </figure>
  );
}
