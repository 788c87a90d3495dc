// Small matrices, by rows. Three by three maps of the plane are nine numbers.

export type Mat = number[];
export type Vec = [number, number, number];

export const identity: Mat = [1, 0, 0, 0, 1, 0, 0, 0, 1];

export function multiply(a: Mat, b: Mat): Mat {
  const out: Mat = [];
  for (let i = 0; i < 3; i++) for (let j = 0; j < 3; j++) out.push(a[3 * i]! * b[j]! + a[3 * i + 1]! * b[3 + j]! + a[3 * i + 2]! * b[6 + j]!);
  return out;
}

export const transposed = (a: Mat): Mat => [a[0]!, a[3]!, a[6]!, a[1]!, a[4]!, a[7]!, a[2]!, a[5]!, a[8]!];

export const times = (a: Mat, v: Vec): Vec => [0, 3, 6].map((i) => a[i]! * v[0] + a[i + 1]! * v[1] + a[i + 2]! * v[2]) as Vec;

export const cross = (a: Vec, b: Vec): Vec => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];

export const norm = (v: readonly number[]): number => Math.hypot(...v);

export const determinant = (a: Mat): number => a[0]! * cofactor(a, 0) + a[1]! * cofactor(a, 1) + a[2]! * cofactor(a, 2);

// cofactor of the k-th number of the first row.
function cofactor(a: Mat, k: number): number {
  const i = (k + 1) % 3, j = (k + 2) % 3;
  return a[3 + i]! * a[6 + j]! - a[3 + j]! * a[6 + i]!;
}

// inverse of a regular matrix; of a singular one it is not finite.
export function inverse(a: Mat): Mat {
  const r: Vec[] = [[a[0]!, a[1]!, a[2]!], [a[3]!, a[4]!, a[5]!], [a[6]!, a[7]!, a[8]!]];
  const columns = [cross(r[1]!, r[2]!), cross(r[2]!, r[0]!), cross(r[0]!, r[1]!)], d = determinant(a);
  return [0, 1, 2].flatMap((i) => columns.map((c) => c[i]! / d));
}

// solve gives x of a·x = b for a symmetric positive definite a (n rows), by
// elimination with the largest pivot.
export function solve(a: number[][], b: number[]): number[] {
  const n = b.length, m = a.map((row, i) => [...row, b[i]!]);
  for (let k = 0; k < n; k++) {
    let best = k;
    for (let i = k + 1; i < n; i++) if (Math.abs(m[i]![k]!) > Math.abs(m[best]![k]!)) best = i;
    [m[k], m[best]] = [m[best]!, m[k]!];
    for (let i = k + 1; i < n; i++) {
      const f = m[i]![k]! / m[k]![k]!;
      for (let j = k; j <= n; j++) m[i]![j]! -= f * m[k]![j]!;
    }
  }
  const x = new Array<number>(n).fill(0);
  for (let i = n - 1; i >= 0; i--) {
    let s = m[i]![n]!;
    for (let j = i + 1; j < n; j++) s -= m[i]![j]! * x[j]!;
    x[i] = s / m[i]![i]!;
  }
  return x;
}

// leastVector is the eigenvector of the smallest eigenvalue of a symmetric
// matrix, by Jacobi's rotations (Golub & Van Loan, section 8.5; recalled).
export function leastVector(of: number[][]): number[] {
  const n = of.length, a = of.map((r) => [...r]), v = of.map((r, i) => r.map((_, j) => (i === j ? 1 : 0)));
  for (let sweep = 0; sweep < 60; sweep++) {
    let off = 0;
    for (let p = 0; p < n; p++) for (let q = p + 1; q < n; q++) off += a[p]![q]! ** 2;
    if (off === 0) break;
    for (let p = 0; p < n; p++) for (let q = p + 1; q < n; q++) rotate(a, v, p, q);
  }
  let least = 0;
  for (let i = 1; i < n; i++) if (a[i]![i]! < a[least]![least]!) least = i;
  return v.map((r) => r[least]!);
}

function rotate(a: number[][], v: number[][], p: number, q: number): void {
  if (Math.abs(a[p]![q]!) < 1e-300) { a[p]![q] = a[q]![p] = 0; return; }
  const theta = (a[q]![q]! - a[p]![p]!) / (2 * a[p]![q]!);
  const t = (theta < 0 ? -1 : 1) / (Math.abs(theta) + Math.hypot(theta, 1)), c = 1 / Math.hypot(t, 1), s = t * c;
  for (let k = 0; k < a.length; k++) [a[k]![p], a[k]![q]] = [c * a[k]![p]! - s * a[k]![q]!, s * a[k]![p]! + c * a[k]![q]!];
  for (let k = 0; k < a.length; k++) [a[p]![k], a[q]![k]] = [c * a[p]![k]! - s * a[q]![k]!, s * a[p]![k]! + c * a[q]![k]!];
  for (const row of v) [row[p], row[q]] = [c * row[p]! - s * row[q]!, s * row[p]! + c * row[q]!];
}
