import { describe, expect, it } from "vitest";
import { chiSquaredTail } from "../../../station/measure/fit/chi-squared.ts";

describe("the chi-squared tail", () => {
  // NIST/SEMATECH e-Handbook 1.3.6.7.4, upper-tail critical values, three decimals (from memory; SciPy 1.10 agrees).
  it.each([
    [1, [2.706, 3.841, 5.024, 6.635, 10.828]],
    [3, [6.251, 7.815, 9.348, 11.345, 16.266]],
    [10, [15.987, 18.307, 20.483, 23.209, 29.588]],
    [17, [24.769, 27.587, 30.191, 33.409, 40.79]],
    [100, [118.498, 124.342, 129.561, 135.807, 149.449]],
  ])("of %i degrees is that of the printed table", (degrees, criticals) => {
    for (const [i, chance] of [0.1, 0.05, 0.025, 0.01, 0.001].entries()) {
      expect(Math.abs(chiSquaredTail(criticals[i] ?? 0, degrees) / chance - 1)).toBeLessThan(6e-4);
    }
  });

  it("is an exponential for two degrees, far out too", () => {
    for (const x of [0.01, 1, 5, 40, 600]) expect(chiSquaredTail(x, 2) / Math.exp(-x / 2)).toBeCloseTo(1, 11);
  });

  // SciPy 1.10, scipy.stats.chi2.sf.
  it.each([
    [8, 4.2, 0.10299790025609791],
    [60, 15.3, 3.150908873102297e-7],
  ])("takes degrees that are no whole number: %f above, %f degrees", (x, degrees, chance) => {
    expect(chiSquaredTail(x, degrees) / chance).toBeCloseTo(1, 11);
  });

  it("is 1 at nothing and 0 at infinity", () => {
    expect(chiSquaredTail(0, 7)).toBe(1);
    expect(chiSquaredTail(Number.POSITIVE_INFINITY, 7)).toBe(0);
    expect(chiSquaredTail(Number.NaN, 7)).toBeNaN();
  });
});
