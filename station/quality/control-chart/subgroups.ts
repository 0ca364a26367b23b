import { NoStudy } from "../study-report.ts";
import { baselineNotes, checkedOptions, finite, meanOf } from "./baseline.ts";
import { chartConstants, meanDeviation } from "./constants.ts";
import { asLevel, type ChartedProcess, type ChartOptions, type ControlChart } from "./control-chart.ts";
import { LIMITS_ONLY } from "./individuals.ts";
import { LARGEST_SUBGROUP, rangeMoments } from "./range-distribution.ts";
import { type RunRule, signalsOf, USUAL_RULES } from "./run-rules.ts";

export interface Subgroup {
  readonly name: string;
  /** Made under the same circumstances; two or more. */
  readonly values: readonly number[];
}

export interface SubgroupOptions extends ChartOptions {
  /** How the scatter within a subgroup is told: by its range or its standard deviation. */
  readonly by: "range" | "standard deviation";
  readonly rules?: readonly RunRule[] | undefined;
}

/** From here on a range wastes much of what its subgroup knows. */
const LARGE_FOR_RANGE = 10;

/**
 * Charts of the subgroups' means and of their ranges or standard deviations. Subgroups may differ in size: each point then has
 * limits of its own, and sigma is the best weighted mean of what each subgroup says.
 * @throws NoStudy for a subgroup of one value, for too few subgroups, and where no subgroup scatters and sigma is not stated
 * @see ISO 7870-2, X-bar with R and with s; ASTM E2587; for unequal sizes I. W. Burr 1969, Journal of Quality Technology 1(3),
 * 163-167, weights (d2 / d3)^2 and c4^2 / (1 - c4^2) (from memory)
 */
export function subgroupChart(subgroups: readonly Subgroup[], options: SubgroupOptions): ChartedProcess {
  const { by, rules = USUAL_RULES } = options;
  const noun = "subgroup";
  const isStated = options.target !== undefined && options.sigma !== undefined;
  const count = subgroups.length;
  const { target, width, baseline, ...stated } = checkedOptions(options, { count, least: 2, noun, isStated });
  checkSizes(subgroups, by);
  const isRange = by === "range";
  const law = isRange ? rangeLaw : deviationLaw;
  const means = subgroups.map(({ values }) => meanOf(values));
  const spreads = subgroups.map(({ values }) => (isRange ? rangeOf(values) : deviationOf(values)));
  const sizes = subgroups.map(({ values }) => values.length);
  const sigma = stated.sigma ?? estimatedSigma(spreads.slice(0, baseline), sizes, law);
  const grandMean = weightedMean(means.slice(0, baseline), sizes);
  const CL = target ?? grandMean;
  finite(CL, sigma, ...[Math.max(0, ...spreads.slice(0, 1))]);
  const reach = (n: number) => (width * sigma) / Math.sqrt(n);
  const meanChart = {
    name: "means",
    noun,
    values: means,
    first: 1,
    CL,
    UCL: asLevel(sizes.map((n) => CL + reach(n))),
    LCL: asLevel(sizes.map((n) => CL - reach(n))),
  };
  const spreadChart = {
    name: isRange ? "ranges" : "standard deviations",
    noun,
    values: spreads,
    first: 1,
    CL: asLevel(sizes.map((n) => law(n).mean * sigma)),
    UCL: asLevel(sizes.map((n) => (law(n).mean + width * law(n).deviation) * sigma)),
    LCL: asLevel(sizes.map((n) => Math.max(0, (law(n).mean - width * law(n).deviation) * sigma))),
  };
  const charts: ControlChart[] = [
    {
      ...meanChart,
      signals: signalsOf({ ...meanChart, sigma: sizes.map((n) => sigma / Math.sqrt(n)) }, rules),
    },
    {
      ...spreadChart,
      signals: signalsOf({ ...spreadChart, sigma: sizes.map((n) => law(n).deviation * sigma) }, LIMITS_ONLY),
    },
  ];
  const estimatedFrom = isStated ? 0 : baseline;
  const letter = isRange ? "R" : "S";
  const [size] = sizes;
  const isEven = sizes.every((n) => n === size);
  return {
    title: isRange ? "X-bar and R chart" : "X-bar and S chart",
    noun,
    charts,
    estimatedFrom,
    figures: {
      subgroups: count,
      n: isEven ? (size ?? null) : sizes,
      grand_mean: grandMean,
      [isRange ? "Rbar" : "sbar"]: isEven ? meanOf(spreads.slice(0, baseline)) : null,
      sigma,
      CL,
      UCL: meanChart.UCL,
      LCL: meanChart.LCL,
      [`${letter}_CL`]: spreadChart.CL,
      [`${letter}_UCL`]: spreadChart.UCL,
      [`${letter}_LCL`]: spreadChart.LCL,
      ...(isEven && size !== undefined ? { constants: constantsUsed(size, isRange, width) } : {}),
      names: subgroups.map(({ name }) => name),
      xbar: means,
      [isRange ? "R" : "s"]: spreads,
    },
    notes: [
      ...baselineNotes(estimatedFrom, noun, count),
      ...(isEven ? [] : ["The subgroups differ in size: each point has limits of its own."]),
      ...(isRange && Math.max(...new Set(sizes)) > LARGE_FOR_RANGE
        ? [
            `A range uses two values of a subgroup only: above ${LARGE_FOR_RANGE} values take the standard deviations (xbar-s).`,
          ]
        : []),
    ],
  };
}

interface SpreadLaw {
  /** In sigma. */
  readonly mean: number;
  readonly deviation: number;
}

function rangeLaw(n: number): SpreadLaw {
  const { d2, d3 } = rangeMoments(n);
  return { mean: d2, deviation: d3 };
}

function deviationLaw(n: number): SpreadLaw {
  const c4 = meanDeviation(n);
  return { mean: c4, deviation: Math.sqrt(1 - c4 * c4) };
}

function checkSizes(subgroups: readonly Subgroup[], by: SubgroupOptions["by"]): void {
  const single = subgroups.find(({ values }) => values.length < 2);
  if (single)
    throw new NoStudy(
      `Subgroup ${single.name} has ${single.values.length === 1 ? "one value" : "no value"}: it takes two to see the scatter within a subgroup. Leave it out, or draw the values one by one (individuals).`,
    );
  const huge = subgroups.find(({ values }) => values.length > LARGEST_SUBGROUP);
  if (huge && by === "range")
    throw new NoStudy(
      `Subgroup ${huge.name} has ${huge.values.length} values, far too many for a range: use xbar-s.`,
    );
}

function estimatedSigma(
  spreads: readonly number[],
  sizes: readonly number[],
  law: (n: number) => SpreadLaw,
): number {
  let [sum, weights] = [0, 0];
  for (const [i, spread] of spreads.entries()) {
    const { mean, deviation } = law(sizes[i] ?? 0);
    const weight = (mean / deviation) ** 2;
    sum += (weight * spread) / mean;
    weights += weight;
  }
  const [sigma] = finite(sum / weights);
  if (sigma === 0)
    throw new NoStudy(
      "The values within each subgroup are equal: there is no scatter to set limits by. Look for a frozen gauge, too coarse a resolution or subgroups that hold one value twice, or state sigma.",
    );
  return sigma;
}

function weightedMean(means: readonly number[], sizes: readonly number[]): number {
  const start = means[0] ?? 0;
  let [sum, weights] = [0, 0];
  for (const [i, mean] of means.entries()) {
    sum += (mean - start) * (sizes[i] ?? 0);
    weights += sizes[i] ?? 0;
  }
  return start + sum / weights;
}

function rangeOf(values: readonly number[]): number {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) {
    if (value < least) least = value;
    if (value > most) most = value;
  }
  return most - least;
}

function deviationOf(values: readonly number[]): number {
  const mean = meanOf(values);
  let sum = 0;
  for (const value of values) sum += (value - mean) ** 2;
  return Math.sqrt(sum / (values.length - 1));
}

function constantsUsed(n: number, isRange: boolean, width: number): Readonly<Record<string, number>> {
  if (isRange && width === 3) {
    const { d2, d3, A2, D3, D4 } = chartConstants(n);
    return { d2, d3, A2, D3, D4 };
  }
  const { mean, deviation } = isRange ? rangeLaw(n) : deviationLaw(n);
  const limits = { low: Math.max(0, 1 - (width * deviation) / mean), high: 1 + (width * deviation) / mean };
  const A = width / (mean * Math.sqrt(n));
  return isRange
    ? { d2: mean, d3: deviation, A2: A, D3: limits.low, D4: limits.high }
    : { c4: mean, A3: A, B3: limits.low, B4: limits.high };
}
