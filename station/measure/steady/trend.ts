import { fitLine } from "../fit/line-fit.ts";
import { mean } from "../fit/mean.ts";
import { correlationWidening } from "../fit/steady-mean.ts";

/** Where a quantity stands over a window of time, and where it is going. */
export interface Trend {
  readonly mean: number;
  /** Per second. */
  readonly slope: number;
  /** Standard uncertainty of the slope, residuals taken as correlated as they are. */
  readonly slopeUncertainty: number;
  /** Standard uncertainty of the mean: scatter about the line, and half the way that the slope goes in the window. */
  readonly meanUncertainty: number;
  readonly n: number;
}

/**
 * Straight line through the readings of a window. Mains ripple and a lagging gauge make neighbouring residuals alike; both
 * uncertainties are widened for that. Of the slope, what its own uncertainty explains does not count against the mean.
 * @param t_s times, 4 or more, rising
 * @throws RangeError on fewer, or on no spread in time
 * @example trendOf([0, 1, 2, 3], [100, 101, 102, 103]) // slope 1, mean 101.5, mean known within 1.5
 * @see fitLine; correlationWidening; JCGM 100:2008, 4.2
 */
export function trendOf(t_s: readonly number[], values: readonly number[]): Trend {
  const n = t_s.length;
  if (n < LEAST_READINGS) throw new RangeError(`A trend needs ${LEAST_READINGS} readings, got ${n}.`);
  const { slope, slopeUncertainty, residualDeviation, lagOneCorrelation } = fitLine(t_s, values);
  const widening = correlationWidening(lagOneCorrelation, n);
  const slopeUncertaintyWidened = slopeUncertainty * widening;
  const gone = Math.sqrt(Math.max(0, slope ** 2 - slopeUncertaintyWidened ** 2));
  const span_s = (t_s[n - 1] as number) - (t_s[0] as number);
  return {
    mean: mean(values),
    slope,
    slopeUncertainty: slopeUncertaintyWidened,
    meanUncertainty: Math.hypot((residualDeviation / Math.sqrt(n)) * widening, (gone * span_s) / 2),
    n,
  };
}

/** Fewer say nothing of their own scatter. */
export const LEAST_READINGS = 4;
