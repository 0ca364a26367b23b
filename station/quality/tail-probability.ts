import fCdf from "@stdlib/stats-base-dists-f-cdf";

/**
 * Probability that an F of these degrees of freedom is larger. By the lower tail of 1/F, so that small ones keep their digits.
 * @example fTail(4.2, 3, 20) // 0.018557
 */
export function fTail(F: number, df1: number, df2: number): number {
  return F > 0 ? fCdf(1 / F, df2, df1) : 1;
}
