import { checkMagnitude } from "../sample.ts";
import { NoStudy } from "../study-report.ts";

/** Squares of squares of larger values leave the numbers a computer has; no gauge reads them. */
const LARGEST = 1e50;

/**
 * Holds values and what they are compared with to numbers that can be calculated with.
 * @throws NoStudy on NaN, infinity, numbers beyond 1e50, and such as differ by next to nothing
 */
export function checkUsable(values: readonly number[]): void {
  const unusable = values.find((value) => !(Math.abs(value) <= LARGEST));
  if (unusable !== undefined)
    throw new NoStudy(`${unusable} is no value a gauge reads: check the data, or choose a larger unit.`);
  checkMagnitude(values);
}

/**
 * Holds a tolerance's width to what values can be held against.
 * @throws NoStudy where it is not above zero, or beyond what can be calculated with
 */
export function checkWidth(width: number): void {
  checkUsable([width]);
  if (!(width >= 1 / LARGEST)) throw new NoStudy(`The tolerance must be above zero, and is ${width}.`);
}
