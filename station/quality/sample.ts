import { NoStudy } from "./study-report.ts";

/** What a set of values comes to. */
export interface Sample {
  readonly n: number;
  readonly mean: number;
  /** Sum of the squared deviations from the mean. */
  readonly squares: number;
  /** Standard deviation, n - 1 in its denominator; 0 of a single value. */
  readonly s: number;
}

/** Squares and quotients of numbers in between stay within what a number can hold, and what a chart can be drawn of. */
const [SMALLEST, LARGEST] = [1e-30, 1e50];

/**
 * Mean and standard deviation. Taken from the first value, so that equal values have a standard deviation of exactly zero and
 * many equal leading digits cost none at the end.
 * @param values at least one
 * @example sampleOf([1, 2, 6]) // { n: 3, mean: 3, squares: 14, s: 2.6458 }
 */
export function sampleOf(values: ArrayLike<number>): Sample {
  const n = values.length;
  const first = values[0] ?? Number.NaN;
  let sum = 0;
  for (let i = 0; i < n; i++) sum += (values[i] ?? 0) - first;
  const shift = sum / n;
  let squares = 0;
  let rest = 0;
  for (let i = 0; i < n; i++) {
    const deviation = (values[i] ?? 0) - first - shift;
    squares += deviation * deviation;
    rest += deviation;
  }
  squares = Math.max(0, squares - (rest * rest) / n);
  return { n, mean: first + (shift + rest / n), squares, s: n > 1 ? Math.sqrt(squares / (n - 1)) : 0 };
}

/** Median of values in ascending order, at least one. @example medianOf([1, 2, 4, 9]) // 3 */
export function medianOf(sorted: ArrayLike<number>): number {
  const half = sorted.length >> 1;
  const upper = sorted[half] ?? Number.NaN;
  if (sorted.length % 2 === 1) return upper;
  const lower = sorted[half - 1] ?? Number.NaN;
  return lower + (upper - lower) / 2;
}

/** @throws NoStudy for numbers so large or so little different from one another that no arithmetic is left for them */
export function checkMagnitude(values: Iterable<number>): void {
  let least = Number.POSITIVE_INFINITY;
  let largest = Number.NEGATIVE_INFINITY;
  for (const value of values) {
    if (value < least) least = value;
    if (value > largest) largest = value;
  }
  if (Math.max(-least, largest) > LARGEST || (largest > least && largest - least < SMALLEST)) {
    throw new NoStudy(
      `Values from ${least} to ${largest} are too large or too close to zero for a study: give them in another unit.`,
    );
  }
}
