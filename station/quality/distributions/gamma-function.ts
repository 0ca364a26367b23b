/** From here on the asymptotic series have all digits. */
const FAR = 12;

/**
 * Natural logarithm of the gamma function.
 * @param x above 0
 * @see NIST Digital Library of Mathematical Functions, 5.5.1 (recurrence) and 5.11.1 (Stirling's series)
 * @example logGamma(10) // 12.8018 = ln(9!)
 */
export function logGamma(x: number): number {
  let product = 1;
  let at = x;
  for (; at < FAR; at++) product *= at;
  const r = 1 / (at * at);
  const series = (1 / 12 - r * (1 / 360 - r * (1 / 1260 - r * (1 / 1680 - r / 1188)))) / at;
  return (at - 0.5) * Math.log(at) - at + 0.5 * Math.log(2 * Math.PI) + series - Math.log(product);
}

/** Derivative of logGamma. @param x above 0. @see DLMF 5.5.2 and 5.11.2. @example digamma(1) // -0.577216 */
export function digamma(x: number): number {
  let below = 0;
  let at = x;
  for (; at < FAR; at++) below += 1 / at;
  const r = 1 / (at * at);
  return (
    Math.log(at) -
    1 / (2 * at) -
    r * (1 / 12 - r * (1 / 120 - r * (1 / 252 - r * (1 / 240 - r / 132)))) -
    below
  );
}

/** Derivative of digamma. @param x above 0. @see DLMF 5.15.5 and 5.15.8. @example trigamma(1) // 1.644934 = pi^2 / 6 */
export function trigamma(x: number): number {
  let below = 0;
  let at = x;
  for (; at < FAR; at++) below += 1 / (at * at);
  const r = 1 / (at * at);
  return (
    below + 1 / at + r / 2 + (r / at) * (1 / 6 - r * (1 / 30 - r * (1 / 42 - r * (1 / 30 - (r * 5) / 66))))
  );
}
