import chiSquareCdf from "@stdlib/stats-base-dists-chisquare-cdf";
import { normalCdf } from "../../../limits/normal.ts";
import { oneWayAnova } from "../comparison/one-way-anova.ts";
import type { Distribution } from "../distributions/distribution.ts";
import { sampleOf } from "../sample.ts";

/** Whether values look like those of one process that stayed where it was. */
export interface Stability {
  /** Null with too few values to say. */
  readonly inControl: boolean | null;
  /** Values, or means of subgroups, beyond three sigma of the short-term scatter from the mean. */
  readonly outside: number;
  readonly points: number;
  /** As many as would be by chance; null where that is not known. */
  readonly expectedOutside: number | null;
  /** Probability that values of a process that stays would wander as much. */
  readonly drift_p: number | null;
}

/** A process that stays is called unsteady once in fifty times: once in a hundred by each of two looks. */
const RISK = 0.01;
const FEWEST = 10;
const NORMAL_OUTSIDE = 0.0027;

/**
 * Individuals: more values beyond mean +- 3 sigma (moving range) than the distribution accounts for, or neighbours more alike
 * than values far apart.
 * @param values in order
 * @param distribution of the values, null where none is known
 * @see von Neumann 1941, mean square successive difference, by its normal approximation (from memory)
 */
export function stabilityOfIndividuals(
  values: ArrayLike<number>,
  sigma: number,
  distribution: Distribution | null,
): Stability {
  const { n, mean, squares } = sampleOf(values);
  const [low, high] = [mean - 3 * sigma, mean + 3 * sigma];
  let outside = 0;
  let successive = 0;
  for (let i = 0; i < n; i++) {
    const value = values[i] ?? 0;
    if (value < low || value > high) outside++;
    if (i > 0) successive += (value - (values[i - 1] ?? 0)) ** 2;
  }
  const expectedOutside = distribution && n * (distribution.cdf(low) + distribution.tail(high));
  const drift_p =
    n < FEWEST ? null : normalCdf((successive / squares / 2 - 1) * Math.sqrt((n * n - 1) / (n - 2)));
  return judged({ outside, points: n, expectedOutside, drift_p });
}

/** Subgroups: means beyond grand mean +- 3 sigma / sqrt(n), or subgroups that differ by analysis of variance. */
export function stabilityOfSubgroups(subgroups: readonly (readonly number[])[], sigma: number): Stability {
  const { mean } = sampleOf(subgroups.flat());
  const outside = subgroups.filter(
    (values) => Math.abs(sampleOf(values).mean - mean) > (3 * sigma) / Math.sqrt(values.length),
  ).length;
  const points = subgroups.length;
  const drift_p = points < 2 ? null : (oneWayAnova(subgroups)?.p ?? null);
  return judged({ outside, points, expectedOutside: NORMAL_OUTSIDE * points, drift_p });
}

function judged(seen: Omit<Stability, "inControl">): Stability {
  const { outside, expectedOutside, points, drift_p } = seen;
  if (drift_p === null && points < FEWEST) return { ...seen, inControl: null };
  const tooMany = expectedOutside !== null && atLeast(outside, expectedOutside) < RISK;
  return { ...seen, inControl: !tooMany && !(drift_p !== null && drift_p < RISK) };
}

/** Probability of as many or more where so many are expected (Poisson). */
function atLeast(count: number, expected: number): number {
  return count === 0 ? 1 : chiSquareCdf(2 * expected, 2 * count);
}
