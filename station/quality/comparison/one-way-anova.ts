import { sampleOf } from "../sample.ts";
import { fTail } from "../tail-probability.ts";

/** Table of a one-way analysis of variance. */
export interface OneWayAnova {
  readonly SS_between: number;
  readonly SS_within: number;
  readonly df_between: number;
  readonly df_within: number;
  readonly F: number;
  readonly p: number;
  /** Part of all squares that lies between the groups. */
  readonly R2: number;
  /** Residual standard deviation: the scatter within, pooled. */
  readonly s_res: number;
}

/**
 * One-way analysis of variance of groups of any sizes. All values are taken from the first one, so that many equal leading
 * digits cost none.
 * @param groups each with a value at least
 * @returns null with fewer than two groups, no degree of freedom within, or no scatter within to weigh differences against
 * @see NIST/SEMATECH e-Handbook, 7.4.3; checked against NIST StRD SiRstv and AtmWtAg
 * @example oneWayAnova([[1, 2, 3], [4, 5, 9]]) // F 5.333, p 0.0821
 */
export function oneWayAnova(groups: readonly ArrayLike<number>[]): OneWayAnova | null {
  const origin = groups[0]?.[0] ?? 0;
  const shifted = groups.map((values) => Float64Array.from(values, (value) => value - origin));
  const samples = shifted.map((values) => sampleOf(values));
  const n = samples.reduce((sum, it) => sum + it.n, 0);
  const df_between = groups.length - 1;
  const df_within = n - groups.length;
  const SS_within = samples.reduce((sum, it) => sum + it.squares, 0);
  if (df_between < 1 || df_within < 1 || !(SS_within > 0)) return null;
  const mean = samples.reduce((sum, it) => sum + it.n * it.mean, 0) / n;
  const SS_between = samples.reduce((sum, it) => sum + it.n * (it.mean - mean) ** 2, 0);
  const F = SS_between / df_between / (SS_within / df_within);
  if (!Number.isFinite(F)) return null;
  return {
    SS_between,
    SS_within,
    df_between,
    df_within,
    F,
    p: fTail(F, df_between, df_within),
    R2: SS_between / (SS_between + SS_within),
    s_res: Math.sqrt(SS_within / df_within),
  };
}
