import { medianOf } from "../sample.ts";
import { oneWayAnova } from "./one-way-anova.ts";
import type { FTest } from "./welch-anova.ts";

/**
 * Are the variances alike? Analysis of variance of the distances from each group's median: Levene's test in Brown and
 * Forsythe's form, which skewed values don't mislead. Groups of one value are passed over.
 * @returns null where there is nothing to compare
 * @see NIST/SEMATECH e-Handbook, 1.3.5.10
 * @example brownForsythe([[1, 2, 3, 4], [1, 5, 9, 13]]) // F 3.53, p 0.109
 */
export function brownForsythe(groups: readonly ArrayLike<number>[]): FTest | null {
  const distances = groups
    .filter(({ length }) => length >= 2)
    .map((values) => {
      const median = medianOf(Float64Array.from(values).sort());
      return Float64Array.from(values, (value) => Math.abs(value - median));
    });
  const anova = oneWayAnova(distances);
  return anova && { F: anova.F, df1: anova.df_between, df2: anova.df_within, p: anova.p };
}
