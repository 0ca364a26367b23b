import { expect, it } from "vitest";
import { mcnemarExact, pairedDifference } from "../../station/quality/paired-proportions.ts";

it("the examples are as documented", () => {
  expect(mcnemarExact({ pairs: 50, toGood: 1, toBad: 7 })).toBeCloseTo(0.0703125, 12);
  const { difference, lower, upper } = pairedDifference({ pairs: 100, toGood: 5, toBad: 15 });
  expect(difference).toBe(-0.1);
  expect(lower).toBeCloseTo(-0.1861, 4);
  expect(upper).toBeCloseTo(-0.0099, 4);
});

it("where nothing changes there is no evidence of a change, and the interval has zero in it", () => {
  expect(mcnemarExact({ pairs: 30, toGood: 0, toBad: 0 })).toBe(1);
  const { lower, upper } = pairedDifference({ pairs: 30, toGood: 0, toBad: 0 });
  expect(lower).toBeLessThan(0);
  expect(upper).toBe(-lower);
});

it.each([
  [0.02, 0.08],
  [0.1, 0.1],
  [0.3, 0.05],
])(
  "the interval of 40 pairs covers the difference in 95 %% of cases or nearly, with %d to good and %d to bad",
  (good, bad) => {
    const pairs = 40;
    const logFactorial = Array.from({ length: pairs + 1 }, () => 0);
    for (let k = 1; k <= pairs; k++) logFactorial[k] = (logFactorial[k - 1] ?? 0) + Math.log(k);
    let covered = 0;
    for (let toGood = 0; toGood <= pairs; toGood++) {
      for (let toBad = 0; toGood + toBad <= pairs; toBad++) {
        const same = pairs - toGood - toBad;
        const ways = [pairs, -toGood, -toBad, -same].reduce(
          (sum, k) => sum + Math.sign(k) * (logFactorial[Math.abs(k)] ?? 0),
          0,
        );
        const { lower, upper } = pairedDifference({ pairs, toGood, toBad });
        if (good - bad < lower || good - bad > upper) continue;
        covered += Math.exp(
          ways + toGood * Math.log(good) + toBad * Math.log(bad) + same * Math.log(1 - good - bad),
        );
      }
    }
    expect(covered).toBeGreaterThan(0.93);
  },
);
