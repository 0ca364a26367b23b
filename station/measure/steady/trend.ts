import { correlationWidening } from "../fit/correlation-widening.ts";
import { fitLine } from "../fit/line-fit.ts";
import { mean } from "../fit/mean.ts";
import { RIPPLING_PARAMETERS, ripplingLine } from "./rippling-line.ts";

/** Where a quantity stands over a window of time, and where it is going. */
export interface Trend {
  readonly mean: number;
  /** Per second; a ripple's own swing is no trend. */
  readonly slope: number;
  /** Standard uncertainty of the slope, residuals taken as correlated as they are. */
  readonly slopeUncertainty: number;
  /** Standard uncertainty of the mean: scatter, half the way that the slope goes in the window, part of a ripple's period. */
  readonly meanUncertainty: number;
  /** Standard deviation of the readings about the line, a ripple's swing included. */
  readonly deviation: number;
  readonly n: number;
}

/** Fewer say nothing of their own scatter. */
export const LEAST_READINGS = 4;
/** Residuals whose neighbours are less alike than this hide no ripple slow enough to be taken for a trend. */
const ALIKE = 0.3;
const LINE_PARAMETERS = 2;

/**
 * Straight line through the readings of a window. Mains ripple and a lagging gauge make neighbouring residuals alike: a
 * ripple that stands out is told from the line, and what alikeness is left widens both uncertainties. Of the slope, what its
 * own uncertainty explains does not count against the mean.
 * @param t_s times, 4 or more, rising
 * @throws RangeError on fewer, or on no spread in time
 * @example trendOf([0, 1, 2, 3], [100, 101, 102, 103]) // slope 1, mean 101.5, mean known within 1.5
 * @see fitLine, ripplingLine, correlationWidening; JCGM 100:2008, 4.2
 */
export function trendOf(t_s: readonly number[], values: readonly number[]): Trend {
  const n = t_s.length;
  if (n < LEAST_READINGS) throw new RangeError(`A trend needs ${LEAST_READINGS} readings, got ${n}.`);
  const line = fitLine(t_s, values);
  const plainMean = mean(values);
  const span_s = (t_s[n - 1] as number) - (t_s[0] as number);
  // A ripple of one and a half periods or more leaves most of its variance about the line: what follows the line is none.
  const followsLine = (line.slope * span_s) ** 2 / 12 > line.residualDeviation ** 2;
  const ripple = line.lagOneCorrelation > ALIKE && !followsLine ? ripplingLine(t_s, values, line) : null;
  const {
    slope,
    middle = plainMean,
    lagOneCorrelation,
    middleUncertainty = line.residualDeviation / Math.sqrt(n),
    slopeUncertainty,
  } = ripple ?? { ...line, middle: undefined, middleUncertainty: undefined };
  const widening = correlationWidening(lagOneCorrelation, n, ripple ? RIPPLING_PARAMETERS : LINE_PARAMETERS);
  const widened = slopeUncertainty * widening;
  const gone = Math.sqrt(Math.max(0, slope ** 2 - widened ** 2));
  return {
    mean: plainMean,
    slope,
    slopeUncertainty: widened,
    meanUncertainty: Math.hypot(middleUncertainty * widening, plainMean - middle, (gone * span_s) / 2),
    deviation: line.residualDeviation,
    n,
  };
}
