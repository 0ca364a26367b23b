import type { YieldReport } from "./yield-report.ts";

/**
 * How long tests took: exact quantiles of however many, kept by how often each duration came. Quantiles as definition 2 of
 * Hyndman and Fan, "Sample Quantiles in Statistical Packages", The American Statistician 50 (1996), p. 361 (from memory): the
 * smallest value that at least that part of all lie at or below, and where exactly that part does, the mean of it and the next.
 * So the median is the one of everyday use.
 * @example both(1, 2, 3, 4) // { tests: 4, median_s: 2.5, p95_s: 4 }
 */
export class CycleTimes {
  readonly #tests = new Map<number, number>();

  /** @param duration_s null where nobody saw the end: it is passed over */
  add(duration_s: number | null, tests = 1): void {
    if (duration_s === null) return;
    this.#tests.set(duration_s, (this.#tests.get(duration_s) ?? 0) + tests);
  }

  /** @returns null where there was none */
  figures(): YieldReport["cycleTime"] {
    const sorted = [...this.#tests].filter(([, tests]) => tests > 0).sort(([a], [b]) => a - b);
    const tests = sorted.reduce((sum, [, count]) => sum + count, 0);
    if (tests === 0) return null;
    // Whole numbers, so that no rounding decides which test is the one.
    return {
      tests,
      median_s: quantile(sorted, 50 * tests),
      p95_s: quantile(sorted, 95 * tests),
    };
  }
}

/** @param hundredths of a test: how many tests lie at or below, times a hundred */
function quantile(sorted: readonly (readonly [number, number])[], hundredths: number): number {
  let before = 0;
  for (const [at, [value, count]] of sorted.entries()) {
    before += 100 * count;
    if (before > hundredths) return value;
    if (before === hundredths) return (value + (sorted[at + 1]?.[0] ?? value)) / 2;
  }
  throw new RangeError("No duration was added.");
}
