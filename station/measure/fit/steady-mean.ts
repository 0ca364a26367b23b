/** The mean of a run of steady samples and how well it is known. */
export interface SteadyMean {
  readonly mean: number;
  /** Standard uncertainty of the mean, widened for correlated samples. */
  readonly uncertainty: number;
  readonly n: number;
}

/**
 * Mean of samples with its type A uncertainty, s/sqrt(n), widened because neighbouring samples of a lagging gauge, or of
 * mains that ripple, resemble each other.
 * @param samples at least 2
 * @throws RangeError on fewer than 2 samples
 * @example steadyMean([9, 10, 11, 10]).mean // 10
 * @see JCGM 100:2008, 4.2; correlationWidening for the widening
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
  const widening = correlationWidening(squares > 0 ? products / squares : 0, n, 1);
  return { mean, uncertainty: (Math.sqrt(squares / (n - 1)) / Math.sqrt(n)) * widening, n };
}

/**
 * Factor on the standard uncertainty of a mean or slope of n samples whose neighbours correlate by r: sqrt((1 + r) / (1 - r)),
 * that of a first-order autoregression. Residuals show less correlation than there is, by (1 + 3 r) / n about a mean and
 * (2 + 4 r) / n about a line, which is added first; n samples count as two at least, and negative correlation, which would
 * narrow, as none.
 * @param lagOne correlation of neighbouring residuals
 * @param fitted number of parameters that the residuals are left by; 1 is a mean
 * @example correlationWidening(0.5, 1e6, 1) // 1.732
 * @see Law & Kelton, Simulation Modeling and Analysis, 4.4; Kendall, Biometrika 41 (1954) 403 (both from memory)
 */
export function correlationWidening(lagOne: number, n: number, fitted: number): number {
  const r = lagOne + (fitted + (fitted + 2) * Math.max(0, lagOne)) / n;
  if (r <= 0) return 1;
  const most = n / 2;
  return Math.sqrt(r < 1 ? Math.max(1, Math.min((1 + r) / (1 - r), most)) : Math.max(1, most));
}
