import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import { rangeMoments } from "../control-chart/range-distribution.ts";
import { NoStudy } from "../study-report.ts";
import type { Interval } from "./mls-interval.ts";
import { roundingFloor } from "./rounding-floor.ts";
import { twoSided } from "./t-test.ts";

/** A bias whose spread is estimated from the range of the readings. */
export interface RangeBias {
  /** Range / d2*. */
  readonly sigma_r: number;
  /** Of the mean. */
  readonly sigma_b: number;
  /** Of a range, which are not whole. */
  readonly df: number;
  /** Null where the readings never differ. */
  readonly t: number | null;
  readonly p: number | null;
  readonly CI95: Interval;
}

/**
 * Bias tested as in the manual's third edition: sigma_r = range / d2*, t = bias sqrt(n) / sigma_r, interval bias +- d2 / d2*
 * t(df) sigma_r / sqrt(n), all readings one subgroup.
 * @param values 2 to 10,000 readings of one reference
 * @throws NoStudy for another number
 * @see AIAG, Measurement Systems Analysis, 3rd ed., chapter III B; Patnaik, Biometrika 37 (1950) 78-87, for df
 * @example rangeBias([5.8, 6.1, 6.2], 6) // sigma_r 0.209, df 1.98
 */
export function rangeBias(values: readonly number[], reference: number): RangeBias {
  const n = values.length;
  if (n < 2 || n > 10_000)
    throw new NoStudy(
      "A range estimate is made of 2 to 10000 readings at each reference: leave --range-estimate out.",
    );
  const { d2, d3 } = rangeMoments(n);
  const d2Star = Math.hypot(d2, d3);
  const df = degreesOf(d2 / d2Star);
  const floor = roundingFloor([...values, reference]);
  const range = Math.max(...values) - Math.min(...values);
  const bias = values.reduce((sum, value) => sum + (value - reference), 0) / n;
  const sigma_r = range <= floor ? 0 : range / d2Star;
  const sigma_b = sigma_r / Math.sqrt(n);
  const t = sigma_b > 0 ? bias / sigma_b : null;
  const reach = (d2 / d2Star) * tQuantile(0.975, df) * sigma_b;
  return {
    sigma_r,
    sigma_b,
    df,
    t,
    p: t === null ? (Math.abs(bias) <= floor ? null : 0) : twoSided(t, df),
    CI95: { lower: bias - reach, upper: bias + reach },
  };
}

/** The degrees of freedom whose chi has this mean, by its root mean square. */
function degreesOf(ratio: number): number {
  let [low, high] = [0.1, 1e4];
  for (let k = 0; k < 100; k++) {
    const middle = (low + high) / 2;
    if (meanOfChi(middle) < ratio) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/**
 * sqrt(2/v) G((v+1)/2) / G(v/2), v not whole: by its series in 1/v, from large v down by m(v) m(v+1) = sqrt(v / (v+1)).
 * @see NIST Digital Library of Mathematical Functions, 5.11.13
 */
function meanOfChi(degrees: number): number {
  if (degrees < 40) return Math.sqrt(degrees / (degrees + 1)) / meanOfChi(degrees + 1);
  const per = 1 / degrees;
  return 1 - per * (1 / 4 - per * (1 / 32 + per * (5 / 128 - per * (21 / 2048))));
}
