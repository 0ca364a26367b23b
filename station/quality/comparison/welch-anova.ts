import { sampleOf } from "../sample.ts";
import { fTail } from "../tail-probability.ts";

/** A test by F. */
export interface FTest {
  readonly F: number;
  readonly df1: number;
  readonly df2: number;
  readonly p: number;
}

/**
 * Are the means alike, whatever the variances? Groups of one value are passed over.
 * @returns null with fewer than two groups of two values and more, or where one of them has no scatter
 * @see Welch 1951, Biometrika 38, 330-336 (from memory); the same as statsmodels' anova_oneway with use_var="unequal"
 * @example welchAnova([[1, 2, 3], [4, 5, 9]]) // F 5.333, df 1 and 2.56
 */
export function welchAnova(groups: readonly ArrayLike<number>[]): FTest | null {
  const origin = groups[0]?.[0] ?? 0;
  const samples = groups
    .filter(({ length }) => length >= 2)
    .map((values) => sampleOf(Float64Array.from(values, (value) => value - origin)));
  const k = samples.length;
  if (k < 2 || samples.some(({ s }) => !(s > 0))) return null;
  const weights = samples.map(({ n, s }) => n / (s * s));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const mean = samples.reduce((sum, it, i) => sum + ((weights[i] ?? 0) / total) * it.mean, 0);
  const between =
    samples.reduce((sum, it, i) => sum + (weights[i] ?? 0) * (it.mean - mean) ** 2, 0) / (k - 1);
  const lost = samples.reduce((sum, { n }, i) => sum + (1 - (weights[i] ?? 0) / total) ** 2 / (n - 1), 0);
  const F = between / (1 + ((2 * (k - 2)) / (k * k - 1)) * lost);
  const df2 = (k * k - 1) / (3 * lost);
  return Number.isFinite(F) && Number.isFinite(df2) ? { F, df1: k - 1, df2, p: fTail(F, k - 1, df2) } : null;
}
