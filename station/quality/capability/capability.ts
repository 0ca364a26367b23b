import {
  type Candidate,
  type Choice,
  chooseDistribution,
  familyOf,
  fitFamily,
} from "../distributions/choose.ts";
import type { FamilyName } from "../distributions/distribution.ts";
import { groupedByName } from "../grouped.ts";
import { checkMagnitude, type Sample, sampleOf } from "../sample.ts";
import { NoStudy } from "../study-report.ts";
import { empiricalIndices, empiricalPercentiles, LEAST_FOR_PERCENTILES } from "./empirical-indices.ts";
import { type Indices, normalIndices } from "./normal-indices.ts";
import { type Percentiles, percentileIndices, percentilesOf } from "./percentile-indices.ts";
import { checkSpecification, type Specification } from "./specification.ts";
import { type Stability, stabilityOfIndividuals, stabilityOfSubgroups } from "./stability.ts";
import { type WithinSigma, withinByMovingRange, withinBySubgroups } from "./within-sigma.ts";

export interface CapabilityData {
  /** In the order in which they were taken. */
  readonly values: readonly number[];
  /** Of each value, the name of its subgroup; without it they are individuals. */
  readonly subgroups?: readonly string[] | undefined;
}

export interface CapabilitySettings extends Specification {
  /** "auto" chooses one. */
  readonly distribution: FamilyName | "auto";
  /** How the scatter within subgroups is estimated; null for the way that suits them. */
  readonly within: "range" | "pooled" | null;
}

/** Where Pp and Ppk come from. */
export type PerformanceMethod = "normal" | "fitted percentiles" | "empirical percentiles";

/** What lies beyond one limit. */
export interface Beyond {
  readonly at: number;
  /** Part of all units, by the distribution; null without one. */
  readonly expected: number | null;
  readonly observed: number;
}

export interface Capability {
  readonly sample: Sample;
  readonly least: number;
  readonly largest: number;
  readonly distinct: number;
  readonly nonPositive: number;
  readonly subgroupCount: number | null;
  /** Null where subgroups have no scatter, or no two values. */
  readonly within: WithinSigma | null;
  /** Cp, Cpl, Cpu, Cpk by the scatter within; they presume a normal distribution. */
  readonly short: Indices | null;
  /** Pp, Ppl, Ppu, Ppk by mean and overall standard deviation; they presume a normal distribution. */
  readonly normal: Indices;
  /** Pp, Ppl, Ppu, Ppk by the distribution that describes the values; null where none does and there are too few values. */
  readonly performance: Indices | null;
  readonly method: PerformanceMethod | null;
  readonly percentiles: Percentiles | null;
  readonly chosen: Candidate | null;
  readonly choice: Choice | null;
  readonly below: Beyond | null;
  readonly above: Beyond | null;
  readonly stability: Stability | null;
}

/** Shape and scatter of fewer are anybody's guess. */
const FEWEST = 5;

/**
 * Capability of a process against its specification.
 * @throws NoStudy where the values can't give it
 * @see ISO 22514-2 and -4 (from memory); NIST/SEMATECH e-Handbook, 6.1.6
 */
export function capability({ values, subgroups }: CapabilityData, settings: CapabilitySettings): Capability {
  checkSpecification(settings);
  const { lower, upper } = settings;
  checkMagnitude([...values, lower, upper].filter((it) => it !== undefined));
  const n = values.length;
  if (n < FEWEST) {
    throw new NoStudy(
      `A process can't be judged by ${n} value${n === 1 ? "" : "s"}: give ${FEWEST} at least, better 100.`,
    );
  }
  const sorted = Float64Array.from(values).sort();
  const [least = 0, largest = 0] = [sorted[0], sorted[n - 1]];
  if (least === largest) {
    throw new NoStudy(
      `All ${n} values are ${least}: without scatter there is no index. Look whether the gauge reads finely enough.`,
    );
  }
  checkMagnitude(values);
  const sample = sampleOf(sorted);
  const groups = subgroups && [...groupedByName(subgroups, values).values()];
  const within = withinOf(values, groups, settings.within);
  const { choice, chosen } = describe(sorted, settings.distribution);
  const performance = performanceOf(sorted, sample, chosen, settings);
  return {
    sample,
    least,
    largest,
    distinct: countDistinct(sorted),
    nonPositive: values.reduce((count, value) => count + (value <= 0 ? 1 : 0), 0),
    subgroupCount: groups?.length ?? null,
    within,
    short: within && normalIndices({ mean: sample.mean, sigma: within.sigma, n, df: within.df }, settings),
    normal: normalIndices({ mean: sample.mean, sigma: sample.s, n, df: n - 1 }, settings),
    ...performance,
    chosen,
    choice,
    below:
      lower === undefined
        ? null
        : {
            at: lower,
            expected: chosen?.distribution.cdf(lower) ?? null,
            observed: values.reduce((count, value) => count + (value < lower ? 1 : 0), 0),
          },
    above:
      upper === undefined
        ? null
        : {
            at: upper,
            expected: chosen?.distribution.tail(upper) ?? null,
            observed: values.reduce((count, value) => count + (value > upper ? 1 : 0), 0),
          },
    stability: within && stabilityOf(values, groups, within, chosen),
  };
}

function withinOf(
  values: readonly number[],
  groups: readonly (readonly number[])[] | undefined,
  wanted: "range" | "pooled" | null,
): WithinSigma | null {
  const found = groups ? withinBySubgroups(groups, wanted) : withinByMovingRange(values);
  if (found === null && wanted === "range" && groups?.some(({ length }) => length > 1)) {
    throw new NoStudy("Ranges of subgroups of unequal size have no mean to go by: take --within pooled.");
  }
  return found && found.sigma > 0 ? found : null;
}

function describe(
  sorted: ArrayLike<number>,
  wanted: FamilyName | "auto",
): { readonly choice: Choice | null; readonly chosen: Candidate | null } {
  if (wanted === "auto") {
    const choice = chooseDistribution(sorted);
    return { choice, chosen: choice.chosen };
  }
  const chosen = fitFamily(sorted, wanted);
  if (chosen) return { choice: null, chosen };
  const { words, positiveOnly } = familyOf(wanted);
  throw new NoStudy(
    positiveOnly && (sorted[0] ?? 0) <= 0
      ? `A ${words} distribution has no place for zero and less, and the least value is ${sorted[0]}: leave --distribution to auto, or take normal or largest-extreme-value.`
      : `No ${words} distribution comes near these values: leave --distribution to auto.`,
  );
}

function performanceOf(
  sorted: ArrayLike<number>,
  { n, mean, s }: Sample,
  chosen: Candidate | null,
  specification: Specification,
): Pick<Capability, "performance" | "method" | "percentiles"> {
  if (chosen?.distribution.family === "normal") {
    return {
      performance: normalIndices({ mean, sigma: s, n, df: n - 1 }, specification),
      method: "normal",
      percentiles: percentilesOf(chosen.distribution),
    };
  }
  if (chosen) {
    return {
      performance: percentileIndices(chosen.distribution, n, specification),
      method: "fitted percentiles",
      percentiles: percentilesOf(chosen.distribution),
    };
  }
  if (n < LEAST_FOR_PERCENTILES) return { performance: null, method: null, percentiles: null };
  return {
    performance: empiricalIndices(sorted, specification),
    method: "empirical percentiles",
    percentiles: empiricalPercentiles(sorted),
  };
}

function stabilityOf(
  values: readonly number[],
  groups: readonly (readonly number[])[] | undefined,
  within: WithinSigma,
  chosen: Candidate | null,
): Stability {
  return groups
    ? stabilityOfSubgroups(groups, within.sigma)
    : stabilityOfIndividuals(values, within.sigma, chosen?.distribution ?? null);
}

function countDistinct(sorted: ArrayLike<number>): number {
  let count = 1;
  for (let i = 1; i < sorted.length; i++) if (sorted[i] !== sorted[i - 1]) count++;
  return count;
}
