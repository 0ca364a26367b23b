import tQuantile from "@stdlib/stats-base-dists-t-quantile";
import { NoStudy } from "../study-report.ts";
import type { Interval } from "./mls-interval.ts";
import { roundingFloor } from "./rounding-floor.ts";
import { type BiasTest, biasTest, twoSided } from "./t-test.ts";
import { checkUsable } from "./usable-values.ts";

/** One reading of a piece of known value. */
export interface ReferredReading {
  readonly reference: number;
  readonly value: number;
}

export interface BiasAt extends BiasTest {
  readonly reference: number;
}

/** A coefficient of the regression of bias on reference. */
export interface Coefficient {
  readonly value: number;
  readonly error: number;
  /** Null where nothing scatters about the line. */
  readonly t: number | null;
  readonly p: number | null;
  readonly CI95: Interval;
  readonly isSignificant: boolean;
}

export interface Band extends Interval {
  readonly fitted: number;
}

/** Bias as a straight line over the reference values. */
export interface Linearity {
  readonly slope: Coefficient;
  readonly intercept: Coefficient;
  /** About the line, n - 2 degrees of freedom. */
  readonly s: number;
  readonly df: number;
  /** Null where all biases are equal. */
  readonly r2: number | null;
  /** The line and the interval of the mean bias, where it is asked. */
  readonly bandAt: (reference: number) => Band;
  /** No bias at all lies in the band, at each reference and in their middle. */
  readonly isZeroInBand: boolean;
}

export interface BiasStudy {
  /** In order of the reference. */
  readonly references: readonly BiasAt[];
  /** Null with one reference, or with fewer than three readings. */
  readonly linearity: Linearity | null;
}

/**
 * Bias at each reference value, and how it changes from one to the other.
 * @throws NoStudy for fewer than two readings
 * @see AIAG, Measurement Systems Analysis, 4th ed., chapter III B; Draper and Smith, Applied Regression Analysis, chapter 1
 * @example biasStudy(aiagLinearity).linearity?.slope.value // -0.13167 for the data of AIAG's manual
 */
export function biasStudy(readings: readonly ReferredReading[]): BiasStudy {
  checkUsable(readings.flatMap(({ reference, value }) => [reference, value]));
  if (readings.length < 2) {
    throw new NoStudy(
      "One reading shows no spread, so that nothing can be said of a bias: measure each piece ten times or more.",
    );
  }
  // In one order, whatever the given: sums in another differ in their last digits.
  const sorted = [...readings].sort((a, b) => a.reference - b.reference || a.value - b.value);
  const values = new Map<number, number[]>();
  for (const { reference, value } of sorted) {
    const own = values.get(reference);
    if (own) own.push(value);
    else values.set(reference, [value]);
  }
  return {
    references: [...values].map(([reference, own]) => ({ reference, ...biasTest(own, reference) })),
    linearity: values.size >= 2 && sorted.length >= 3 ? linearity(sorted) : null,
  };
}

function linearity(readings: readonly ReferredReading[]): Linearity | null {
  const n = readings.length;
  const df = n - 2;
  const floor = roundingFloor(readings.flatMap(({ reference, value }) => [reference, value]));
  const x = readings.map(({ reference }) => reference);
  const y = readings.map(({ reference, value }) => value - reference);
  const [meanX, meanY] = [mean(x), mean(y)];
  const sxx = sum(x.map((at) => (at - meanX) ** 2));
  const sxy = sum(x.map((at, i) => (at - meanX) * ((y[i] ?? 0) - meanY)));
  // References that differ in their last digits only are one.
  if (!(Math.sqrt(sxx) > floor)) return null;
  const slope = sxy / sxx;
  const residuals = y.map((bias, i) => bias - meanY - slope * ((x[i] ?? 0) - meanX));
  const deviation = Math.sqrt(sum(residuals.map((residual) => residual ** 2)) / df);
  const s = deviation <= floor ? 0 : deviation;
  const syy = sum(y.map((bias) => (bias - meanY) ** 2));
  const quantile = tQuantile(0.975, df);
  const errorAt = (reference: number) => s * Math.sqrt(1 / n + (reference - meanX) ** 2 / sxx);
  const coefficient = (value: number, error: number, none: number): Coefficient => {
    const reach = quantile * error;
    const isNone = Math.abs(value) <= none;
    const t = s > 0 ? value / error : null;
    return {
      value: s === 0 && isNone ? 0 : value,
      error,
      t,
      p: t === null ? (isNone ? null : 0) : twoSided(t, df),
      CI95: { lower: value - reach, upper: value + reach },
      isSignificant: s > 0 ? Math.abs(value) > reach : !isNone,
    };
  };
  const bandAt = (reference: number): Band => {
    const fitted = meanY + slope * (reference - meanX);
    const reach = quantile * errorAt(reference);
    return { fitted, lower: fitted - reach, upper: fitted + reach };
  };
  return {
    slope: coefficient(slope, s / Math.sqrt(sxx), (2 * floor) / Math.sqrt(sxx)),
    intercept: coefficient(meanY - slope * meanX, errorAt(0), 2 * floor * Math.sqrt(1 + meanX ** 2 / sxx)),
    s,
    df,
    r2:
      syy <= n * floor * floor
        ? null
        : Math.min(1, Math.max(0, 1 - sum(residuals.map((one) => one ** 2)) / syy)),
    bandAt,
    isZeroInBand: [...x, meanX].every((reference) => {
      const { lower, upper } = bandAt(reference);
      return lower <= floor && upper >= -floor;
    }),
  };
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

function mean(values: readonly number[]): number {
  return sum(values) / values.length;
}
