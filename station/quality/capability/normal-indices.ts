import chiSquareQuantile from "@stdlib/stats-base-dists-chisquare-quantile";
import { normalQuantile } from "../../../limits/normal.ts";
import type { Specification } from "./specification.ts";

/** A process by its mean and standard deviation, and what they are known from. */
export interface Spread {
  readonly mean: number;
  readonly sigma: number;
  /** Values behind the mean. */
  readonly n: number;
  /** Degrees of freedom behind sigma: n - 1 for the standard deviation of all values. */
  readonly df: number;
}

export type Interval = readonly [lower: number, upper: number];

/** An index and its confidence interval; null where there is none, as Cp with one limit. */
export interface Index {
  readonly value: number;
  readonly interval: Interval | null;
}

/** Two-sided index (Cp, Pp), those by each limit (l, u) and the lesser of these (k). */
export interface Indices {
  readonly p: Index | null;
  readonly l: Index | null;
  readonly u: Index | null;
  readonly k: Index;
}

/**
 * Indices of a normal distribution: (U - L) / 6 sigma, (U - mean) / 3 sigma, (mean - L) / 3 sigma, and the lesser of the two.
 * Interval of the first exact, by chi-squared; of the others approximate:
 * index +- z sqrt(1 / 9n + index^2 / 2 df) (Bissell 1990), with df = n - 1 for all values.
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6
 * @example normalIndices({ mean: 16, sigma: 2, n: 50, df: 49 }, { lower: 8, upper: 20 })
 * // Cp 1.00 (0.802 to 1.197), Cpk 0.667 (0.506 to 0.828)
 */
export function normalIndices(spread: Spread, { lower, upper }: Specification, confidence = 0.95): Indices {
  const { mean, sigma } = spread;
  const oneSided = (value: number): Index => ({ value, interval: bissell(value, spread, confidence) });
  const l = lower === undefined ? null : oneSided((mean - lower) / (3 * sigma));
  const u = upper === undefined ? null : oneSided((upper - mean) / (3 * sigma));
  return { p: twoSided(spread, { lower, upper }, confidence), l, u, k: lesser(l, u) };
}

/** @throws RangeError without either */
export function lesser(l: Index | null, u: Index | null): Index {
  if (l && u) return l.value < u.value ? l : u;
  const only = l ?? u;
  if (!only) throw new RangeError("An index needs a limit.");
  return only;
}

function twoSided({ sigma, df }: Spread, { lower, upper }: Specification, confidence: number): Index | null {
  if (lower === undefined || upper === undefined) return null;
  const value = (upper - lower) / (6 * sigma);
  const ends = [(1 - confidence) / 2, (1 + confidence) / 2];
  const [low = 0, high = 0] = ends.map((p) => value * Math.sqrt(chiSquareQuantile(p, df) / df));
  return { value, interval: [low, high] };
}

function bissell(value: number, { n, df }: Spread, confidence: number): Interval {
  const reach = normalQuantile((1 + confidence) / 2) * Math.sqrt(1 / (9 * n) + (value * value) / (2 * df));
  return [value - reach, value + reach];
}
