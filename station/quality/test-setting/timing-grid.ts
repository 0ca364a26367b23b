import type { Timing } from "./setting-risks.ts";

/** Times of human size, s; a valve knocks for the first. */
export const SETTLES_S = [0.3, 0.5, 1, 2, 3, 5, 7.5, 10, 15, 20, 30, 45, 60, 90, 120] as const;
export const MEASURES_S = [
  1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 90, 120, 180,
] as const;
/** Heat is fitted along, so that waiting for it only loses what shows it. */
export const FITTED_SETTLES_S = [0.3, 1, 2, 5] as const;

/** 0.1 s and 0.2 s make 0.3 s. */
const ROUNDING_S = 1e-9;

/**
 * Every pair of settling and measuring time that a curve of this length covers, shortest first, each once.
 * @param longest_s from the shut-off
 * @param own times that are wanted beside those of the lists: the present ones
 * @example timingGrid({ settles_s: [0.3], measures_s: [1, 2], longest_s: 2, own: [] }) // 0.3 + 1 s
 */
export function timingGrid({
  settles_s,
  measures_s,
  longest_s,
  own,
}: {
  readonly settles_s: readonly number[];
  readonly measures_s: readonly number[];
  readonly longest_s: number;
  readonly own: readonly Timing[];
}): Timing[] {
  const settles = ascending([...settles_s, ...own.map(({ settle_s }) => settle_s)]);
  const measures = ascending([...measures_s, ...own.map(({ measure_s }) => measure_s)]);
  return settles
    .flatMap((settle_s) => measures.map((measure_s) => ({ settle_s, measure_s })))
    .filter(({ settle_s, measure_s }) => settle_s + measure_s <= longest_s + ROUNDING_S)
    .sort((a, b) => a.settle_s + a.measure_s - b.settle_s - b.measure_s);
}

function ascending(values: readonly number[]): number[] {
  return [...new Set(values)].sort((a, b) => a - b);
}
