import tCdf from "@stdlib/stats-base-dists-t-cdf";
import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import type { Interval } from "./mls-interval.ts";
import { roundingFloor } from "./rounding-floor.ts";

/** A mean of readings held against a known value. */
export interface BiasTest {
  readonly n: number;
  readonly mean: number;
  /** Mean less reference. */
  readonly bias: number;
  /** Standard deviation, n - 1 degrees of freedom; null for one reading. */
  readonly s: number | null;
  readonly df: number;
  /** bias sqrt(n) / s; null without a spread. */
  readonly t: number | null;
  /** Chance of a t as far from zero without bias; 0 where readings that never differ are off the reference. */
  readonly p: number | null;
  readonly CI95: Interval | null;
  /** Zero lies outside the interval; null for one reading. */
  readonly isSignificant: boolean | null;
}

/**
 * Student's t test of the mean of readings against a reference value.
 * @param values one or more
 * @see AIAG, Measurement Systems Analysis, 4th ed., chapter III B, independent sample method
 * @example biasTest([5.8, 6.1, 6.2], 6) // bias 0.0333, s 0.2082, t 0.277, p 0.808
 */
export function biasTest(values: readonly number[], reference: number): BiasTest {
  const n = values.length;
  const floor = roundingFloor([...values, reference]);
  const off = values.map((value) => value - reference);
  const raw = off.reduce((sum, value) => sum + value, 0) / n;
  const bias = Math.abs(raw) <= floor ? 0 : raw;
  const mean = reference + raw;
  const df = n - 1;
  if (n < 2) return { n, mean, bias, s: null, df, t: null, p: null, CI95: null, isSignificant: null };
  const squares = off.reduce((sum, value) => sum + (value - raw) ** 2, 0);
  const deviation = Math.sqrt(squares / df);
  if (deviation <= floor) {
    const [t, p] = bias === 0 ? [null, null] : [null, 0];
    return { n, mean, bias, s: 0, df, t, p, CI95: { lower: bias, upper: bias }, isSignificant: bias !== 0 };
  }
  const error = deviation / Math.sqrt(n);
  const t = bias / error;
  const reach = tQuantile(0.975, df) * error;
  return {
    n,
    mean,
    bias,
    s: deviation,
    df,
    t,
    p: twoSided(t, df),
    CI95: { lower: bias - reach, upper: bias + reach },
    isSignificant: Math.abs(bias) > reach,
  };
}

/** Chance of a t that far from zero, either way. */
export function twoSided(t: number, df: number): number {
  return Math.min(1, 2 * tCdf(-Math.abs(t), df));
}
