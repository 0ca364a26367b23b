import { rangeMoments } from "./range-distribution.ts";

/** What turns a mean range or a mean standard deviation of subgroups of n normal values into sigma and control limits. */
export interface ChartConstants {
  /** Mean and standard deviation of the range, in sigma. */
  readonly d2: number;
  readonly d3: number;
  /** Mean of the standard deviation (n - 1 in its denominator), in sigma. */
  readonly c4: number;
  /** Limits of the mean: 3 / sqrt(n), by sigma; A2 by the mean range, A3 by the mean standard deviation. */
  readonly A: number;
  readonly A2: number;
  readonly A3: number;
  /** Limits of the range, by the mean range; D1 and D2 by sigma. */
  readonly D1: number;
  readonly D2: number;
  readonly D3: number;
  readonly D4: number;
  /** Limits of the standard deviation, by their mean; B5 and B6 by sigma. */
  readonly B3: number;
  readonly B4: number;
  readonly B5: number;
  readonly B6: number;
  /** Limits of an individual value, by the mean range of n. */
  readonly E2: number;
}

/**
 * Constants of control charts at three sigma, calculated for any n and not looked up: to 1e-10 and better.
 * @param n values in a subgroup: whole, 2 to 10,000
 * @throws RangeError for another n
 * @see ASTM E2587, table of factors for control limits, for the definitions (from memory); printed tables round, some in the last
 * digit: D4 for n = 2 is 3.2665 and printed 3.267, E2 is 2.6587 and often 2.660, which is 3 / 1.128
 * @example chartConstants(5) // A2 0.5768, D4 2.1145, c4 0.9400 ...
 */
export function chartConstants(n: number): ChartConstants {
  const { d2, d3 } = rangeMoments(n);
  const c4 = meanDeviation(n);
  const spread = 3 * Math.sqrt(1 - c4 * c4);
  const A = 3 / Math.sqrt(n);
  return {
    d2,
    d3,
    c4,
    A,
    A2: A / d2,
    A3: A / c4,
    D1: Math.max(0, d2 - 3 * d3),
    D2: d2 + 3 * d3,
    D3: Math.max(0, 1 - (3 * d3) / d2),
    D4: 1 + (3 * d3) / d2,
    B3: Math.max(0, 1 - spread / c4),
    B4: 1 + spread / c4,
    B5: Math.max(0, c4 - spread),
    B6: c4 + spread,
    E2: 3 / d2,
  };
}

/**
 * c4: the mean of the standard deviation of n normal values, in sigma; sqrt(2 / (n - 1)) G(n / 2) / G((n - 1) / 2).
 * @param n whole, from 2
 * @throws RangeError for another n
 * @see ASTM E2587 (from memory); the ratio of the gamma functions by G(x + 1) = x G(x) from G(1) / G(1/2) = 1 / sqrt(pi)
 * @example meanDeviation(5) // 0.93998560
 */
export function meanDeviation(n: number): number {
  if (!Number.isInteger(n) || n < 2) {
    throw new RangeError(`${n} values have no standard deviation: give a whole number from 2.`);
  }
  let ratio = 1 / Math.sqrt(Math.PI);
  for (let k = 3; k <= n; k++) ratio = (k - 2) / 2 / ratio;
  return Math.sqrt(2 / (n - 1)) * ratio;
}
