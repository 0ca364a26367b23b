import { chartConstants } from "../control-chart/constants.ts";
import { rangeMoments } from "../control-chart/range-distribution.ts";
import type { CrossedStudy } from "./crossed-study.ts";
import { roundingFloor } from "./rounding-floor.ts";

/** Average-and-range analysis of a crossed study, by AIAG's names. */
export interface AverageAndRange {
  /** Mean of the ranges of all cells. */
  readonly Rbarbar: number;
  /** Largest less smallest appraiser mean; null with one appraiser. */
  readonly Xdiff: number | null;
  /** Range of the part means. */
  readonly Rp: number;
  /** Factors that turn ranges into standard deviations, to four decimals as AIAG prints them. */
  readonly K1: number;
  readonly K2: number | null;
  readonly K3: number;
  readonly EV: number;
  /** Null with one appraiser. */
  readonly AV: number | null;
  /** The appraisers differ less than repeatability alone would make them: AV is set to zero. */
  readonly isAvSetToZero: boolean;
  readonly PV: number;
}

/**
 * Repeatability, reproducibility and part variation from ranges: EV = Rbarbar K1, AV = sqrt((Xdiff K2)^2 - EV^2 / (parts x
 * trials)), PV = Rp K3, with K1 = 1/d2 and K2, K3 = 1/sqrt(d2^2 + d3^2), one range each.
 * @see AIAG, Measurement Systems Analysis, 4th ed., chapter III B
 * @example averageAndRange(aiagStudy).EV // 0.20186 for the data of AIAG's manual
 */
export function averageAndRange(study: CrossedStudy): AverageAndRange {
  const { values, parts, appraisers, trials } = study;
  const floor = roundingFloor(values.flat(2));
  const cellRanges = values.flat().map((cell) => rangeOf(cell, floor));
  // About the first value, so that large offsets cost no digits.
  const origin = values[0]?.[0]?.[0] ?? 0;
  const cellMeans = values.map((row) => row.map((cell) => mean(cell.map((value) => value - origin))));
  const appraiserMeans = appraisers.map((_, j) => mean(cellMeans.map((row) => row[j] ?? 0)));
  const Rbarbar = mean(cellRanges);
  const Rp = rangeOf(cellMeans.map(mean), floor);
  const K1 = asPrinted(1 / rangeMoments(trials).d2);
  const K3 = oneRange(parts.length);
  const EV = Rbarbar * K1;
  const PV = Rp * K3;
  if (appraisers.length === 1)
    return { Rbarbar, Xdiff: null, Rp, K1, K2: null, K3, EV, AV: null, isAvSetToZero: false, PV };
  const Xdiff = rangeOf(appraiserMeans, floor);
  const K2 = oneRange(appraisers.length);
  const square = (Xdiff * K2) ** 2 - EV ** 2 / (parts.length * trials);
  const AV = Math.sqrt(Math.max(0, square));
  return { Rbarbar, Xdiff, Rp, K1, K2, K3, EV, AV, isAvSetToZero: square < 0, PV };
}

/** Range of each cell with its control limits, by appraiser, then part. */
export interface RangeChart {
  readonly ranges: readonly { readonly part: string; readonly appraiser: string; readonly range: number }[];
  readonly CL: number;
  readonly UCL: number;
  readonly LCL: number;
}

/** @see ASTM E2587 for the limits of a range chart */
export function rangeChart({ values, parts, appraisers, trials }: CrossedStudy): RangeChart {
  const floor = roundingFloor(values.flat(2));
  const ranges = appraisers.flatMap((appraiser, j) =>
    parts.map((part, i) => ({ part, appraiser, range: rangeOf(values[i]?.[j] ?? [], floor) })),
  );
  const CL = mean(ranges.map(({ range }) => range));
  const { D3, D4 } = chartConstants(trials);
  return { ranges, CL, UCL: CL * D4, LCL: CL * D3 };
}

/** 1/d2* for a single range of n values. */
function oneRange(n: number): number {
  const { d2, d3 } = rangeMoments(n);
  return asPrinted(1 / Math.hypot(d2, d3));
}

/** The manual's factors have four decimals; with more, its own example would not come out. */
function asPrinted(factor: number): number {
  return Number(factor.toFixed(4));
}

function rangeOf(values: readonly number[], floor: number): number {
  const range = Math.max(...values) - Math.min(...values);
  return range <= floor ? 0 : range;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
