import { NoStudy } from "../study-report.ts";
import { baselineNotes, checkedOptions, finite, meanOf } from "./baseline.ts";
import type { ChartedProcess, ChartOptions } from "./control-chart.ts";
import { ewma, ewmaVariance } from "./ewma.ts";
import { LIMITS_ONLY, shortTermSigma } from "./individuals.ts";
import { signalsOf } from "./run-rules.ts";

export interface EwmaChartOptions extends ChartOptions {
  /** Weight of the newest value, above 0 and at most 1; 0.2 unless stated. */
  readonly lambda?: number | undefined;
  /** The limits of the long run from the first point on, in place of narrower ones at first. */
  readonly steadyLimits?: boolean | undefined;
}

/** Finds shifts of one sigma some ten points on; 0.2 to 0.3 is usual. */
const USUAL_LAMBDA = 0.2;

/**
 * Chart of exponentially weighted moving averages about a target.
 * @throws NoStudy for a lambda outside 0 to 1, for too few values, and for equal values where sigma is not stated
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; limits that widen with the first points: Lucas and Saccucci 1990,
 * Technometrics 32, 1-12, equation 1 (from memory)
 * @example ewmaChart([52, 47, 53], { target: 50, sigma: 2.0539, lambda: 0.3 }).figures.UCL // 52.588, in the long run
 */
export function ewmaChart(values: readonly number[], options: EwmaChartOptions): ChartedProcess {
  const noun = "point";
  const { lambda = USUAL_LAMBDA, steadyLimits = false } = options;
  if (!(lambda > 0 && lambda <= 1))
    throw new NoStudy("Lambda is the newest value's weight: give a number above 0, at most 1; 0.2 is usual.");
  const isStated = options.target !== undefined && options.sigma !== undefined;
  const { width, baseline, ...stated } = checkedOptions(options, {
    count: values.length,
    least: 3,
    noun,
    isStated,
  });
  const sigma = stated.sigma ?? shortTermSigma(values.slice(0, baseline));
  const target = stated.target ?? meanOf(values.slice(0, baseline));
  const averages = ewma(values, { lambda, start: target });
  finite(target, sigma, averages.at(-1) ?? 0);
  const deviation = (count?: number) => sigma * Math.sqrt(ewmaVariance(lambda, count));
  const deviations = values.map((_, i) => deviation(i + 1));
  const long = deviation();
  const around = (side: 1 | -1) =>
    steadyLimits ? target + side * width * long : deviations.map((it) => target + side * width * it);
  const chart = {
    name: "averages",
    noun,
    values: averages,
    first: 1,
    CL: target,
    UCL: around(1),
    LCL: around(-1),
  };
  const estimatedFrom = isStated ? 0 : baseline;
  const [first = long] = deviations;
  return {
    title: "EWMA chart",
    noun,
    charts: [
      { ...chart, signals: signalsOf({ ...chart, sigma: steadyLimits ? long : deviations }, LIMITS_ONLY) },
    ],
    estimatedFrom,
    figures: {
      n: values.length,
      target,
      sigma,
      lambda,
      width,
      CL: target,
      // Of the long run; what each point was held against is beside them.
      UCL: target + width * long,
      LCL: target - width * long,
      UCL_i1: target + width * first,
      LCL_i1: target - width * first,
      UCL_i: deviations.map((it) => target + width * it),
      LCL_i: deviations.map((it) => target - width * it),
      limits: steadyLimits ? "steady state" : "time-varying",
      values,
      ewma: averages,
    },
    notes: [
      ...baselineNotes(estimatedFrom, noun, values.length),
      ...(stated.target === undefined
        ? [
            "No target was stated: the centre is the values' own mean, and where the process ought to stand is not asked.",
          ]
        : []),
    ],
  };
}
