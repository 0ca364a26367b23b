import { describe, expect, it } from "vitest";
import { exactInterval } from "../../station/quality/exact-interval.ts";

// Expected values: SciPy 1.10.1, scipy.stats.binomtest(k, n).proportion_ci(0.95, "exact").
describe("the exact interval of a probability, by which the benches tell rare events", () => {
  it.each([
    { count: 0, trials: 4000, lower: 0, upper: 0.0009217947496064361 },
    { count: 10, trials: 100, lower: 0.04900468922148595, upper: 0.17622259774017532 },
    { count: 3, trials: 1200, lower: 0.0005158571322382324, upper: 0.007288522609406443 },
    { count: 100, trials: 100, lower: 0.9637833073548094, upper: 1 },
  ])("of $count in $trials is SciPy's", ({ count, trials, lower, upper }) => {
    const found = exactInterval(count, trials);
    expect(found.lower).toBeCloseTo(lower, 12);
    expect(found.upper).toBeCloseTo(upper, 12);
  });
});
