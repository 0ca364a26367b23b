/** The mean of a run of steady samples and how well it is known. */
export interface SteadyMean {
  readonly mean: number;
  /** Standard uncertainty of the mean, widened for correlated samples. */
  readonly uncertainty: number;
  readonly n: number;
}

/**
 * Mean of samples with its type A uncertainty. Neighbouring samples of a lagging gauge resemble each other, so the
 * usual s/sqrt(n) is widened by sqrt((1 + r) / (1 - r)) with the lag-one correlation r.
 * @param samples at least 2
 * @throws RangeError on fewer than 2 samples
 * @example steadyMean([9, 10, 11, 10]).mean // 10
 * @see JCGM 100:2008, 4.2; Law & Kelton, Simulation Modeling and Analysis, 4.4 (from memory) for the widening
 */
export function steadyMean(samples: readonly number[]): SteadyMean {
  const n = samples.length;
  if (n < 2) throw new RangeError(`A mean with an uncertainty needs 2 samples or more, got ${n}.`);
  const mean = samples.reduce((sum, value) => sum + value, 0) / n;
  let squares = 0;
  let products = 0;
  for (let i = 0; i < n; i++) {
    const deviation = (samples[i] as number) - mean;
    squares += deviation * deviation;
    if (i > 0) products += deviation * ((samples[i - 1] as number) - mean);
  }
  const correlation = squares > 0 ? Math.min(Math.max(products / squares, 0), 0.95) : 0;
  const widening = Math.sqrt((1 + correlation) / (1 - correlation));
  return { mean, uncertainty: (Math.sqrt(squares / (n - 1)) / Math.sqrt(n)) * widening, n };
}

/**
 * Spread (largest less smallest) relative to the size of the mean; infinite for a mean of zero with any spread.
 * @example relativeSpread([99, 100, 101]) // 0.02
 */
export function relativeSpread(samples: readonly number[]): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let sum = 0;
  for (const value of samples) {
    low = Math.min(low, value);
    high = Math.max(high, value);
    sum += value;
  }
  if (high === low) return 0;
  return (high - low) / Math.abs(sum / samples.length);
}
