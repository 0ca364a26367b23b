import { normalQuantile } from "../../../limits/normal.ts";
import { type Indices, type Interval, lesser } from "./normal-indices.ts";
import { BEYOND, bareIndices, type Percentiles } from "./percentile-indices.ts";
import type { Specification } from "./specification.ts";

/**
 * So many values it takes before the largest is with 97.5 % above the percentile that has 0.135 % above it:
 * 1 - 0.99865^n >= 0.975. With fewer, the values themselves say nothing of where it ends.
 * @see David and Nagaraja, Order Statistics (2003), 7.1: distribution-free intervals of percentiles (from memory)
 */
export const LEAST_FOR_PERCENTILES = Math.ceil(Math.log(0.025) / Math.log1p(-BEYOND));

/**
 * Percentile of the values themselves, the k-th smallest standing for k / (n + 1).
 * @param sorted ascending, at least one
 * @see NIST/SEMATECH e-Handbook, 7.2.6.2
 * @example empiricalPercentile([1, 2, 3], 0.5) // 2
 */
function empiricalPercentile(sorted: ArrayLike<number>, p: number): number {
  const n = sorted.length;
  const place = Math.min(n, Math.max(1, p * (n + 1)));
  const k = Math.min(n - 1, Math.floor(place));
  const below = sorted[Math.max(0, k - 1)] ?? Number.NaN;
  const above = sorted[k] ?? below;
  return below + (place - k) * (above - below);
}

export function empiricalPercentiles(sorted: ArrayLike<number>): Percentiles {
  return {
    low: empiricalPercentile(sorted, BEYOND),
    median: empiricalPercentile(sorted, 0.5),
    high: empiricalPercentile(sorted, 1 - BEYOND),
  };
}

/**
 * Indices by the percentile method without any distribution. Intervals from the order statistics around the outer percentiles,
 * the median, far better known, taken as it is; of Pp each side gets half the risk.
 * @param sorted ascending, at least LEAST_FOR_PERCENTILES
 * @returns null where no index can be formed, the percentiles being equal
 */
export function empiricalIndices(
  sorted: ArrayLike<number>,
  specification: Specification,
  confidence = 0.95,
): Indices | null {
  const percentiles = empiricalPercentiles(sorted);
  const bare = bareIndices(percentiles, specification);
  const one = outer(sorted, (1 - confidence) / 2);
  const both = outer(sorted, (1 - confidence) / 4);
  const { median } = percentiles;
  const interval = (of: "p" | "l" | "u", ends: readonly Percentiles[]): Interval | null => {
    const found = ends.map((it) => bareIndices({ ...it, median }, specification)[of]);
    const [low = null, high = null] = found;
    return low === null || high === null ? null : [Math.min(low, high), Math.max(low, high)];
  };
  const index = (of: "p" | "l" | "u", ends: readonly Percentiles[]) =>
    bare[of] === null ? null : { value: bare[of], interval: interval(of, ends) };
  const [p, l, u] = [index("p", both), index("l", one), index("u", one)];
  return l === null && u === null ? null : { p, l, u, k: lesser(l, u) };
}

/** Widest and narrowest the outer percentiles may be, with this risk on each side of each. */
function outer(sorted: ArrayLike<number>, risk: number): readonly [wide: Percentiles, narrow: Percentiles] {
  const n = sorted.length;
  const reach = normalQuantile(1 - risk) * Math.sqrt(n * BEYOND * (1 - BEYOND));
  const far = Math.max(1, Math.floor(n * BEYOND - reach));
  const near = Math.min(n, Math.ceil(n * BEYOND + reach) + 1);
  const ends = (k: number): Percentiles => ({
    low: sorted[k - 1] ?? Number.NaN,
    median: Number.NaN,
    high: sorted[n - k] ?? Number.NaN,
  });
  return [ends(far), ends(near)];
}
