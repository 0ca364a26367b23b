import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import { checkSpecification, type Specification } from "../capability/specification.ts";
import { checkMagnitude, sampleOf } from "../sample.ts";
import { NoStudy } from "../study-report.ts";
import { brownForsythe } from "./equal-variances.ts";
import { type OneWayAnova, oneWayAnova } from "./one-way-anova.ts";
import { gamesHowell, type NamedSample, type Pair, tukeyKramer } from "./pairwise.ts";
import { type FTest, welchAnova } from "./welch-anova.ts";

/** A group of values: a cavity, a lot. */
export interface ComparedGroup extends NamedSample {
  /** Of the mean, by its own scatter; null of a single value. */
  readonly mean_CI95: readonly [number, number] | null;
  /** How far the nearest limit is from the mean, in the group's own standard deviations; null without either. */
  readonly distance_s: number | null;
  /** The same in the values' unit; below zero beyond the limit. */
  readonly distance: number | null;
}

export interface Comparison {
  /** The worst first: nearest its limit, or the highest mean where no limit was given. */
  readonly groups: readonly ComparedGroup[];
  readonly anova: OneWayAnova;
  readonly welch: FTest | null;
  readonly variances: FTest | null;
  /** The variances differ, so that Welch's test and the pairs of Games and Howell hold. */
  readonly variancesDiffer: boolean;
  /** Of the test that holds. */
  readonly p: number;
  readonly method: "Tukey-Kramer" | "Games-Howell";
  /** In the order of the groups. */
  readonly pairs: readonly Pair[];
}

/** Differences less probable by chance are taken for real. */
export const RISK = 0.05;
/** The table of pairs grows with the square. */
const MOST_GROUPS = 100;

/**
 * Holds groups against each other: analysis of variance, Welch's where the variances differ, and intervals of all pairs.
 * @throws NoStudy where there is nothing to compare
 */
export function compareGroups(
  groups: ReadonlyMap<string, readonly number[]>,
  specification: Specification = {},
): Comparison {
  const { lower, upper } = specification;
  if (lower !== undefined || upper !== undefined) checkSpecification(specification);
  const all = [...groups.values()].flat();
  checkMagnitude(all);
  checkMagnitude([...all, lower, upper].filter((it) => it !== undefined));
  if (groups.size < 2) {
    throw new NoStudy(
      `All values are of one group, ${[...groups.keys()][0] ?? ""}: there is nothing to compare it with.`,
    );
  }
  if (groups.size > MOST_GROUPS) {
    throw new NoStudy(
      `${groups.size} groups are too many to hold against each other: give ${MOST_GROUPS} at most.`,
    );
  }
  const anova = oneWayAnova([...groups.values()]);
  if (!anova) throw new NoStudy(whyNot(groups));
  const samples = [...groups].map(([name, values]) => groupOf(name, values, specification));
  const ranked = samples.toSorted((a, b) => badness(b, specification) - badness(a, specification));
  const inOrder = [...groups.values()];
  const welch = welchAnova(inOrder);
  const variances = brownForsythe(inOrder);
  const variancesDiffer = welch !== null && variances !== null && variances.p < RISK;
  return {
    groups: ranked,
    anova,
    welch,
    variances,
    variancesDiffer,
    p: variancesDiffer ? welch.p : anova.p,
    method: variancesDiffer ? "Games-Howell" : "Tukey-Kramer",
    pairs: variancesDiffer ? gamesHowell(ranked) : tukeyKramer(ranked, anova.s_res, anova.df_within),
  };
}

function whyNot(groups: ReadonlyMap<string, readonly number[]>): string {
  const sizes = [...groups.values()].map(({ length }) => length);
  if (sizes.every((n) => n === 1)) {
    return "Each group has one value: their differences can't be told from scatter. Give two values at least in some group, better ten in each.";
  }
  return "Within each group all values are the same: there is no scatter to weigh differences against. Look whether the gauge reads finely enough.";
}

function groupOf(name: string, values: readonly number[], { lower, upper }: Specification): ComparedGroup {
  const sample = sampleOf(values);
  const { n, mean, s } = sample;
  const reach = n > 1 ? (tQuantile(0.975, n - 1) * s) / Math.sqrt(n) : null;
  const distances = [
    ...(upper === undefined ? [] : [upper - mean]),
    ...(lower === undefined ? [] : [mean - lower]),
  ];
  const distance = distances.length > 0 ? Math.min(...distances) : null;
  return {
    name,
    sample,
    mean_CI95: reach === null ? null : [mean - reach, mean + reach],
    distance,
    distance_s: distance === null || !(s > 0) ? null : distance / s,
  };
}

/** By the mean, towards the limit. */
function badness({ sample, distance }: ComparedGroup, { lower, upper }: Specification): number {
  return lower === undefined && upper === undefined ? sample.mean : -(distance ?? 0);
}
