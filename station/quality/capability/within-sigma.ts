import { rangeMoments } from "../control-chart/range-distribution.ts";
import { sampleOf } from "../sample.ts";

/** How the scatter within is estimated. */
export type WithinMethod = "moving range" | "range" | "pooled";

/** The scatter of a process over a short time. */
export interface WithinSigma {
  readonly sigma: number;
  readonly method: WithinMethod;
  /** Degrees of freedom, of which those of ranges are effective ones. */
  readonly df: number;
}

/** Ranges of larger subgroups throw too much away (common practice, no source). */
const LARGEST_BY_RANGE = 10;

/**
 * By the mean moving range of two successive values over d2 = 1.1284.
 * @param values in the order in which they came, at least two
 * @see NIST/SEMATECH e-Handbook, 6.3.2.2; for the degrees of freedom: the mean of m overlapping ranges has the relative
 * variance (0.8264 m - 0.2556) / m^2 (Cryer and Ryan 1990, from memory; derived anew from E|XY| of correlated normal values)
 * @example withinByMovingRange([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]).sigma // 1.6642
 */
export function withinByMovingRange(values: ArrayLike<number>): WithinSigma {
  const m = values.length - 1;
  let sum = 0;
  for (let i = 0; i < m; i++) sum += Math.abs((values[i + 1] ?? 0) - (values[i] ?? 0));
  return {
    sigma: sum / m / rangeMoments(2).d2,
    method: "moving range",
    df: effectiveDf((0.8264 * m - 0.2556) / (m * m)),
  };
}

/**
 * By subgroups: the mean range over d2 where all are of one size up to ten, else the pooled standard deviation.
 * Subgroups of one value say nothing and are passed over.
 * @param wanted null for the one that suits them
 * @returns null where no subgroup has two values, or where ranges are wanted of subgroups of unequal size
 * @see NIST/SEMATECH e-Handbook, 6.3.2 and 7.2.3 (pooled)
 */
export function withinBySubgroups(
  subgroups: readonly ArrayLike<number>[],
  wanted: "range" | "pooled" | null,
): WithinSigma | null {
  const used = subgroups.filter(({ length }) => length >= 2);
  const [first] = used;
  if (!first) return null;
  const isEqual = used.every(({ length }) => length === first.length);
  if (wanted === "range" && !isEqual) return null;
  return wanted === "range" || (wanted === null && isEqual && first.length <= LARGEST_BY_RANGE)
    ? byRange(used, first.length)
    : pooled(used);
}

function byRange(subgroups: readonly ArrayLike<number>[], n: number): WithinSigma {
  const { d2, d3 } = rangeMoments(n);
  let sum = 0;
  for (const values of subgroups) sum += rangeOf(values);
  return {
    sigma: sum / subgroups.length / d2,
    method: "range",
    df: effectiveDf((d3 / d2) ** 2 / subgroups.length),
  };
}

function pooled(subgroups: readonly ArrayLike<number>[]): WithinSigma {
  let squares = 0;
  let df = 0;
  for (const values of subgroups) {
    const sample = sampleOf(values);
    squares += sample.squares;
    df += sample.n - 1;
  }
  return { sigma: Math.sqrt(squares / df), method: "pooled", df };
}

function rangeOf(values: ArrayLike<number>): number {
  let least = Number.POSITIVE_INFINITY;
  let largest = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    const value = values[i] ?? 0;
    if (value < least) least = value;
    if (value > largest) largest = value;
  }
  return largest - least;
}

/** Of the chi distribution with this relative variance: 1 / (2 df) and, for few, a quarter more (Patnaik 1950, from memory). */
function effectiveDf(relativeVariance: number): number {
  return 0.5 / relativeVariance + 0.25;
}
