/** Stirling's series is good to the last digit from here on. */
const STIRLING_FROM = 10;
const MOST_TERMS = 500;

/**
 * Chance of a chi-squared value above x: the regularised upper incomplete gamma function Q(degrees/2, x/2).
 * @param degrees positive, whole or not
 * @returns relative error below 1e-12, in the far tail too
 * @see NIST Digital Library of Mathematical Functions, 8.2.4, 8.7.1 (series), 8.9.2 (continued fraction)
 * @example chiSquaredTail(29.588298445074, 10) // 0.001
 */
export function chiSquaredTail(x: number, degrees: number): number {
  if (!(x > 0)) return x <= 0 ? 1 : Number.NaN;
  if (x === Number.POSITIVE_INFINITY) return 0;
  const a = degrees / 2;
  const z = x / 2;
  const scale = Math.exp(a * Math.log(z) - z - logGamma(a));
  return z < a + 1 ? 1 - scale * series(a, z) : scale * continuedFraction(a, z);
}

/** gamma(a, z) / (z^a e^-z). */
function series(a: number, z: number): number {
  let term = 1 / a;
  let sum = term;
  for (let k = 1; k < MOST_TERMS && term > sum * Number.EPSILON; k++) {
    term *= z / (a + k);
    sum += term;
  }
  return sum;
}

/** Gamma(a, z) / (z^a e^-z), by Lentz's method. */
function continuedFraction(a: number, z: number): number {
  let b = z + 1 - a;
  let c = Number.POSITIVE_INFINITY;
  let d = 1 / b;
  let value = d;
  for (let k = 1; k < MOST_TERMS; k++) {
    const numerator = -k * (k - a);
    b += 2;
    c = b + numerator / c;
    d = 1 / (b + numerator * d);
    const factor = c * d;
    value *= factor;
    if (Math.abs(factor - 1) <= Number.EPSILON) break;
  }
  return value;
}

/** ln Gamma(a), a positive. @see DLMF 5.5.1, 5.11.1 */
function logGamma(a: number): number {
  let shifted = a;
  let product = 1;
  while (shifted < STIRLING_FROM) {
    product *= shifted;
    shifted += 1;
  }
  const per = 1 / shifted;
  const square = per * per;
  const tail =
    per *
    (1 / 12 -
      square *
        (1 / 360 -
          square * (1 / 1260 - square * (1 / 1680 - square * (1 / 1188 - square * (691 / 360360))))));
  return (
    (shifted - 0.5) * Math.log(shifted) - shifted + 0.5 * Math.log(2 * Math.PI) + tail - Math.log(product)
  );
}
