// What a spread's interval needs of the gamma function, as the notebook takes
// it from a library; web/build holds both to the same digits.

// lnGamma is ln Γ(x), x > 0: Stirling's series above 8 (Abramowitz & Stegun
// 6.1.40), brought there by Γ(x+1) = xΓ(x).
export function lnGamma(x: number): number {
  let shift = 0;
  for (; x < 8; x++) shift -= Math.log(x);
  const z = 1 / (x * x);
  return shift + (x - 0.5) * Math.log(x) - x + 0.5 * Math.log(2 * Math.PI) + (1 / 12 - z * (1 / 360 - z * (1 / 1260 - z * (1 / 1680 - z * (1 / 1188 - (z * 691) / 360360))))) / x;
}

// below is P(a, x), the regularised incomplete gamma function: its series, or
// above the mean its continued fraction (Abramowitz & Stegun 6.5.29, 6.5.31).
function below(a: number, x: number): number {
  if (x <= 0) return 0;
  const front = Math.exp(a * Math.log(x) - x - lnGamma(a));
  if (x < a + 1) {
    let term = 1 / a, sum = term;
    for (let n = 1; term > sum * 1e-17; n++) sum += term *= x / (a + n);
    return front * sum;
  }
  let b = x + 1 - a, c = 1e300, d = 1 / b, h = d;
  for (let i = 1, step = 0; Math.abs(step - 1) > 1e-16 && i < 10_000; i++) {
    const k = -i * (i - a);
    b += 2;
    d = 1 / (k * d + b);
    c = b + k / c;
    step = c * d;
    h *= step;
  }
  return 1 - front * h;
}

// chiSquare is the value that a χ² variable of ν degrees of freedom stays
// below with probability p, by bisection.
export function chiSquare(nu: number, p: number): number {
  let low = 0, high = nu + 10;
  while (below(nu / 2, high / 2) < p) high *= 2;
  for (let turn = 0; turn < 200 && high - low > 1e-15 * high; turn++) {
    const mid = (low + high) / 2;
    if (below(nu / 2, mid / 2) < p) low = mid;
    else high = mid;
  }
  return (low + high) / 2;
}
