import { NoStudy } from "../study-report.ts";
import { baselineNotes, checkedOptions, finite, meanOf } from "./baseline.ts";
import { chartConstants } from "./constants.ts";
import type { ChartedProcess, ChartOptions, ControlChart } from "./control-chart.ts";
import { type RunRule, signalsOf, USUAL_RULES } from "./run-rules.ts";

/** What moving ranges, which hang together two by two, can be asked. */
export const LIMITS_ONLY: readonly RunRule[] = ["beyond a control limit"];

/**
 * Chart of individual values and of their moving ranges of two.
 * @param values in the order of their making
 * @throws NoStudy for too few values, and for values that are all equal where sigma is not stated
 * @see ISO 7870-2, individuals charts; NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, which rounds d2 to 1.128
 * @example individualsChart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1], {}).figures.UCL // 55.802
 */
export function individualsChart(
  values: readonly number[],
  { rules = USUAL_RULES, ...options }: ChartOptions & { readonly rules?: readonly RunRule[] | undefined },
): ChartedProcess {
  const noun = "point";
  const isStated = options.target !== undefined && options.sigma !== undefined;
  const { target, width, baseline, ...stated } = checkedOptions(options, {
    count: values.length,
    least: 3,
    noun,
    isStated,
  });
  const ranges = movingRanges(values);
  const { d2, d3 } = chartConstants(2);
  const sigma = stated.sigma ?? meanMovingRange(values.slice(0, baseline)) / d2;
  const CL = target ?? meanOf(values.slice(0, baseline));
  const MR_CL = d2 * sigma;
  finite(CL, sigma);
  const individuals = {
    name: "individual values",
    noun,
    values,
    first: 1,
    CL,
    UCL: CL + width * sigma,
    LCL: CL - width * sigma,
  };
  const moving = {
    name: "moving ranges",
    noun,
    values: ranges,
    first: 2,
    CL: MR_CL,
    UCL: (d2 + width * d3) * sigma,
    LCL: Math.max(0, (d2 - width * d3) * sigma),
  };
  const charts: ControlChart[] = [
    { ...individuals, signals: signalsOf({ ...individuals, sigma }, rules) },
    { ...moving, signals: signalsOf({ ...moving, sigma: d3 * sigma }, LIMITS_ONLY) },
  ];
  const estimatedFrom = isStated ? 0 : baseline;
  return {
    title: "Individuals and moving range chart",
    noun,
    charts,
    estimatedFrom,
    figures: {
      n: values.length,
      mean: meanOf(values.slice(0, baseline)),
      MRbar: baseline > 1 ? meanMovingRange(values.slice(0, baseline), { allowEqual: true }) : null,
      sigma,
      CL,
      UCL: individuals.UCL,
      LCL: individuals.LCL,
      MR_CL,
      MR_UCL: moving.UCL,
      MR_LCL: moving.LCL,
      constants: {
        d2,
        d3,
        E2: width / d2,
        D3: Math.max(0, 1 - (width * d3) / d2),
        D4: 1 + (width * d3) / d2,
      },
      values,
      MR: ranges,
    },
    notes: baselineNotes(estimatedFrom, noun, values.length),
  };
}

/**
 * Standard deviation of single values from how far neighbours differ: what lasts longer than from one to the next does not count.
 * @throws NoStudy for fewer than two values, and for values that are all equal
 */
export function shortTermSigma(values: readonly number[]): number {
  return meanMovingRange(values) / chartConstants(2).d2;
}

function meanMovingRange(values: readonly number[], { allowEqual = false } = {}): number {
  if (values.length < 2)
    throw new NoStudy("The scatter can't be estimated from one value: give more, or state sigma.");
  const [mean] = finite(meanOf(movingRanges(values)));
  if (mean === 0 && !allowEqual)
    throw new NoStudy(
      `All ${values.length} values that the limits come from are equal (${values[0]}): there is no scatter to set limits by. Look for a frozen gauge or too coarse a resolution, or state sigma.`,
    );
  return mean;
}

function movingRanges(values: readonly number[]): number[] {
  const ranges: number[] = [];
  for (let i = 1; i < values.length; i++) ranges.push(Math.abs((values[i] ?? 0) - (values[i - 1] ?? 0)));
  return ranges;
}
