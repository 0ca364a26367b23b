import { describe, expect, it } from "vitest";
import { binomialAtMost, exactInterval } from "../../station/quality/exact-interval.ts";

describe("the exact interval of a probability, by which yields and rare events are told", () => {
  // SciPy 1.17.1, scipy.stats.binomtest(k, n).proportion_ci(0.95, "exact").
  it.each([
    { count: 0, trials: 4000, lower: 0, upper: 0.0009217947496064361 },
    { count: 10, trials: 100, lower: 0.04900468922148595, upper: 0.17622259774017532 },
    { count: 3, trials: 1200, lower: 0.0005158571322382324, upper: 0.007288522609406443 },
    { count: 100, trials: 100, lower: 0.9637833073548094, upper: 1 },
    { count: 4, trials: 20, lower: 0.05733399705002387, upper: 0.4366140029966687 },
    { count: 0, trials: 1, lower: 0, upper: 0.975 },
    { count: 1, trials: 1, lower: 0.025000000000000022, upper: 1 },
    { count: 0, trials: 20, lower: 0, upper: 0.16843347098308548 },
    { count: 1, trials: 20, lower: 0.0012650894979560339, upper: 0.24873276277202772 },
    { count: 19, trials: 20, lower: 0.7512672372279723, upper: 0.998734910502044 },
    { count: 29, trials: 30, lower: 0.827830544366587, upper: 0.9991564290733507 },
    { count: 451, trials: 480, lower: 0.9143814457623972, upper: 0.9591683636758289 },
    { count: 22, trials: 480, lower: 0.02894306222733911, upper: 0.06857231219378636 },
    { count: 957_123, trials: 1_000_000, lower: 0.956724124856559, upper: 0.957519224619998 },
    { count: 500_000, trials: 1_000_000, lower: 0.4990195191953118, upper: 0.5009804808046883 },
    { count: 999_999, trials: 1_000_000, lower: 0.9999944283693444, upper: 0.9999999746821948 },
  ])("of $count in $trials is SciPy's", ({ count, trials, lower, upper }) => {
    const found = exactInterval(count, trials);
    expect(Math.abs(found.lower - lower)).toBeLessThanOrEqual(1e-9 * lower);
    expect(Math.abs(found.upper / upper - 1)).toBeLessThanOrEqual(1e-9);
  });

  // NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.2: 4 of 20, 90 %; it prints 0.071354 and 0.401029 (from memory).
  it("of 4 in 20 at 90 % is the NIST handbook's example", () => {
    const { lower, upper } = exactInterval(4, 20, 0.9);
    expect(lower).toBeCloseTo(0.071354, 6);
    expect(Math.abs(upper - 0.401029)).toBeLessThan(2e-6);
  });

  it("of 1 in a million begins where the closed form says, which SciPy misses by a ten-millionth", () => {
    const { lower, upper } = exactInterval(1, 1_000_000);
    expect(lower / -Math.expm1(Math.log(0.975) / 1e6)).toBeCloseTo(1, 9);
    expect(upper / 5.571630655512304e-6).toBeCloseTo(1, 9);
  });

  it("has at its ends what it says: as much as this, or as little, is seen once in forty times", () => {
    for (const trials of [1, 2, 7, 60, 1400]) {
      for (let count = 0; count <= trials; count += Math.ceil(trials / 40)) {
        const { lower, upper } = exactInterval(count, trials);
        if (count > 0) expect(1 - binomialAtMost(count - 1, trials, lower)).toBeCloseTo(0.025, 9);
        if (count < trials) expect(binomialAtMost(count, trials, upper)).toBeCloseTo(0.025, 9);
      }
    }
  });
});
