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
