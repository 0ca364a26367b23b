import { NoStudy } from "../study-report.ts";
import type { ChartOptions } from "./control-chart.ts";

/** Limits from fewer points move about by themselves; common practice wants 20 to 25 subgroups or more. */
const ENOUGH_POINTS = 20;

/** Options with everything that was left out filled in. */
export interface CheckedOptions {
  readonly target: number | undefined;
  readonly sigma: number | undefined;
  readonly width: number;
  readonly baseline: number;
}

/**
 * @param count points there are
 * @param least points without which nothing can be estimated
 * @throws NoStudy where an option is out of its range, or there are too few points for what was not stated
 */
export function checkedOptions(
  { target, sigma, width = 3, baseline }: ChartOptions,
  { count, least, noun, isStated }: { count: number; least: number; noun: string; isStated: boolean },
): CheckedOptions {
  if (target !== undefined && !Number.isFinite(target)) throw new NoStudy("The target must be a number.");
  if (sigma !== undefined && !(sigma > 0 && Number.isFinite(sigma)))
    throw new NoStudy("Sigma is a standard deviation: give a number above 0.");
  if (!(width > 0 && width <= 10))
    throw new NoStudy("The width is in standard deviations: give a number above 0, at most 10; 3 is usual.");
  if (count === 0) throw new NoStudy(`There is no ${noun} to draw.`);
  if (baseline !== undefined && !(Number.isInteger(baseline) && baseline >= 1 && baseline <= count))
    throw new NoStudy(`The baseline is the first so many ${noun}s: give a whole number from 1 to ${count}.`);
  const used = baseline ?? count;
  if (!isStated && used < least)
    throw new NoStudy(
      `Limits can't be estimated from ${used} ${noun}${used === 1 ? "" : "s"}: it takes ${least} at the least, and ${ENOUGH_POINTS} or more to rely on them; or state target and sigma.`,
    );
  return { target, sigma, width, baseline: used };
}

/** What a reader must know of limits from so many points. */
export function baselineNotes(estimatedFrom: number, noun: string, count: number): string[] {
  if (estimatedFrom === 0) return [];
  const from =
    estimatedFrom < count
      ? [`The limits are estimated from the first ${estimatedFrom} ${noun}s and applied to all ${count}.`]
      : [];
  if (estimatedFrom >= ENOUGH_POINTS) return from;
  return [
    ...from,
    `Limits from ${estimatedFrom} ${noun}s are provisional: ${ENOUGH_POINTS} to 25 or more are common practice.`,
  ];
}

/** @returns whether so many points are enough to say that a process stands still; 0 for stated limits */
export function isEnough(estimatedFrom: number): boolean {
  return estimatedFrom === 0 || estimatedFrom >= ENOUGH_POINTS;
}

/** Mean by differences from the first value, so that large numbers that differ little keep their digits. */
export function meanOf(values: readonly number[]): number {
  const start = values[0] ?? 0;
  let sum = 0;
  for (const value of values) sum += value - start;
  return start + sum / values.length;
}

/** @throws NoStudy where the values are too large to be calculated with */
export function finite<T extends readonly number[]>(...numbers: T): T {
  if (numbers.every((it) => Number.isFinite(it))) return numbers;
  throw new NoStudy("The values are too large to be calculated with: give them in a larger unit.");
}
