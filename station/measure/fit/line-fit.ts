import { mean } from "./mean.ts";

/** A straight line through samples: intercept at the first abscissa's origin, slope, and their scatter. */
export interface LineFit {
  readonly intercept: number;
  readonly slope: number;
  /** Standard uncertainty of the slope for independent residuals. */
  readonly slopeUncertainty: number;
  /** Standard deviation of the residuals, n - 2 degrees of freedom. */
  readonly residualDeviation: number;
  /** Correlation of neighbouring residuals (lag one). */
  readonly lagOneCorrelation: number;
  readonly n: number;
}

/**
 * Ordinary least squares of y = intercept + slope x, for samples in order of x (lag-one correlation needs the order).
 * Sums are taken about the means, so that large offsets (pressures of 8000 Pa moving by one) lose no digits.
 * @param x abscissae, at least 3, not all equal
 * @param y ordinates, as many
 * @throws RangeError on fewer than 3 samples, unequal lengths, or no spread in x
 * @example fitLine([0, 1, 2], [1000, 998, 996]).slope // -2
 * @see NIST StRD linear regression (Norris) checks it; Draper & Smith, Applied Regression Analysis, 1.2-1.4
 */
export function fitLine(x: ArrayLike<number>, y: ArrayLike<number>): LineFit {
  const n = x.length;
  if (n < 3 || y.length !== n)
    throw new RangeError(`A line needs 3 samples or more, got ${n} and ${y.length}.`);
  const meanX = mean(x);
  const meanY = mean(y);
  let sxx = 0;
  let sxy = 0;
  for (let i = 0; i < n; i++) {
    const dx = at(x, i) - meanX;
    sxx += dx * dx;
    sxy += dx * (at(y, i) - meanY);
  }
  if (!(sxx > 0)) throw new RangeError("A line needs samples at different times.");
  const slope = sxy / sxx;
  let squares = 0;
  let products = 0;
  let previous = 0;
  for (let i = 0; i < n; i++) {
    const residual = at(y, i) - meanY - slope * (at(x, i) - meanX);
    squares += residual * residual;
    if (i > 0) products += residual * previous;
    previous = residual;
  }
  const residualDeviation = Math.sqrt(squares / (n - 2));
  return {
    intercept: meanY - slope * meanX,
    slope,
    slopeUncertainty: residualDeviation / Math.sqrt(sxx),
    residualDeviation,
    lagOneCorrelation: squares > 0 ? products / squares : 0,
    n,
  };
}

function at(values: ArrayLike<number>, i: number): number {
  return values[i] as number;
}
