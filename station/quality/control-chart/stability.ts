import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import { checkMagnitude } from "../sample.ts";
import { NoStudy } from "../study-report.ts";
import { meanOf } from "./baseline.ts";
import type { ChartedProcess } from "./control-chart.ts";
import { ewmaChart } from "./ewma-chart.ts";
import { individualsChart, shortTermSigma } from "./individuals.ts";

/** One check of a reference piece, in one unit throughout. */
export interface ReferenceCheck {
  readonly value: number;
  /** What its certificate says; null where it is not stated. */
  readonly reference: number | null;
  /** Since any fixed moment; null where it is not known. */
  readonly time_s: number | null;
}

/** How far readings go off with time, by a straight line of least squares. */
export interface Drift {
  /** Per day, or per check where the times are not known. */
  readonly slope: number;
  readonly standardError: number;
  /** 95 %, by Student's t. */
  readonly CI95: readonly [number, number];
  readonly per: "day" | "check";
}

export interface Stability {
  /** In the order of their making. */
  readonly checks: readonly ReferenceCheck[];
  /** Value less reference; the values themselves where no reference is stated. */
  readonly deviations: readonly number[];
  readonly isCertified: boolean;
  readonly individuals: ChartedProcess;
  /** About the certified value; about the mean where none is stated, or a tolerance says how far a reading may stand off. */
  readonly ewma: ChartedProcess;
  readonly drift: Drift;
}

const LEAST_CHECKS = 4;
const DAY_S = 86_400;

/**
 * Does a station read its reference pieces today as it did before? Deviations from the certified value on a chart of individuals and
 * on an EWMA chart about zero, and their drift. With a tolerance a constant deviation is no change, and is held against that: a
 * sound piece may stand off by some tenths of it.
 * @param checks four or more; put in order of time where all have one
 * @throws NoStudy for too few checks, for values that are all equal, and where only some have a reference or a time
 * @see AIAG MSA, stability by control charts over time; NIST/SEMATECH e-Handbook 6.3.2.4 (EWMA); slope and its interval: e-Handbook
 * 4.1.4.1 (least squares) and 2.3.5 (measurement assurance by control charts)
 * @example stabilityOf([10, 11, 12, 13.2].map((value, i) => ({ value, reference: 10, time_s: i * 86400 }))).drift.slope // 1.06
 */
export function stabilityOf(
  checks: readonly ReferenceCheck[],
  {
    lambda,
    tolerance,
  }: { readonly lambda?: number | undefined; readonly tolerance?: number | undefined } = {},
): Stability {
  if (checks.length < LEAST_CHECKS)
    throw new NoStudy(
      `${checks.length} check${checks.length === 1 ? " is" : "s are"} too few to see anything change: it takes ${LEAST_CHECKS} at the least, better 20.`,
    );
  const isCertified = allOrNone(checks, ({ reference }) => reference !== null, "certified value");
  const isTimed = allOrNone(checks, ({ time_s }) => time_s !== null, "time");
  const ordered = isTimed ? [...checks].sort((a, b) => (a.time_s ?? 0) - (b.time_s ?? 0)) : checks;
  const deviations = ordered.map(({ value, reference }) => value - (reference ?? 0));
  checkMagnitude(deviations);
  const start_s = ordered[0]?.time_s ?? 0;
  const x = ordered.map(({ time_s }, i) => (isTimed ? ((time_s ?? 0) - start_s) / DAY_S : i));
  if (x.at(-1) === 0)
    throw new NoStudy("All checks have the same time: leave the column out, or give the time of each.");
  const sigma = shortTermSigma(deviations);
  return {
    checks: ordered,
    deviations,
    isCertified,
    individuals: individualsChart(deviations, {}),
    ewma: ewmaChart(deviations, {
      lambda,
      sigma,
      target: isCertified && tolerance === undefined ? 0 : undefined,
    }),
    drift: { ...lineThrough(x, deviations), per: isTimed ? "day" : "check" },
  };
}

function allOrNone(
  checks: readonly ReferenceCheck[],
  has: (check: ReferenceCheck) => boolean,
  what: string,
): boolean {
  const missing = checks.findIndex((check) => !has(check));
  if (missing < 0) return true;
  if (!checks.some(has)) return false;
  throw new NoStudy(
    `Check ${missing + 1} has no ${what} and others have one: give it for all checks or for none.`,
  );
}

/**
 * Slope of the least-squares line with its standard error and 95 % interval.
 * @param x not all equal; three points or more
 */
export function lineThrough(
  x: readonly number[],
  y: readonly number[],
): { readonly slope: number; readonly standardError: number; readonly CI95: readonly [number, number] } {
  const [meanX, meanY] = [meanOf(x), meanOf(y)];
  let [xx, xy] = [0, 0];
  for (const [i, at] of x.entries()) {
    xx += (at - meanX) ** 2;
    xy += (at - meanX) * ((y[i] ?? 0) - meanY);
  }
  const slope = xy / xx;
  let squares = 0;
  for (const [i, at] of x.entries()) squares += ((y[i] ?? 0) - meanY - slope * (at - meanX)) ** 2;
  const freedom = x.length - 2;
  const standardError = Math.sqrt(squares / freedom / xx);
  const reach = tQuantile(0.975, freedom) * standardError;
  return { slope, standardError, CI95: [slope - reach, slope + reach] };
}
