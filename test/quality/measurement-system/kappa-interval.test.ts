import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { fleissKappa } from "../../../station/quality/measurement-system/kappa.ts";
import {
  cohenKappaOfUnits,
  fleissKappaOfUnits,
} from "../../../station/quality/measurement-system/kappa-interval.ts";

/** A unit for each decision of a cross table. */
function unitsOf(table: readonly (readonly number[])[], decisions = 1): number[][][] {
  return table.flatMap((row, i) =>
    row.flatMap((count, j) =>
      Array.from({ length: count }, () =>
        table.map((of, r) => of.map((_, c) => (r === i && c === j ? decisions : 0))),
      ),
    ),
  );
}

const TABLE = [
  [20, 5],
  [10, 15],
];

describe("the interval of Cohen's kappa", () => {
  it("is as documented", () => {
    const { kappa, standardError, CI95 } = cohenKappaOfUnits(unitsOf(TABLE));
    expect(kappa).toBeCloseTo(0.4, 12);
    expect(standardError).toBeCloseTo(0.127, 4);
    expect(CI95?.lower).toBeCloseTo(0.151, 3);
    expect(CI95?.upper).toBeCloseTo(0.649, 3);
  });

  it("does not narrow when the same is said again of each unit: three trials alike know no more than one", () => {
    const [once, thrice] = [cohenKappaOfUnits(unitsOf(TABLE)), cohenKappaOfUnits(unitsOf(TABLE, 3))];
    expect(thrice.kappa).toBeCloseTo(once.kappa ?? 9, 12);
    expect(thrice.standardError).toBeCloseTo(once.standardError ?? 9, 12);
  });

  it("narrows with the root of the number of units", () => {
    const more = TABLE.map((row) => row.map((count) => 4 * count));
    const [few, many] = [cohenKappaOfUnits(unitsOf(TABLE)), cohenKappaOfUnits(unitsOf(more))];
    expect(many.standardError).toBeCloseTo((few.standardError ?? 9) / 2, 12);
  });
});

describe("the interval of Fleiss' kappa", () => {
  it("is as documented", () => {
    const { kappa, standardError } = fleissKappaOfUnits([
      [3, 0],
      [2, 1],
      [0, 3],
    ]);
    expect(kappa).toBeCloseTo(0.55, 12);
    expect(standardError).toBeCloseTo(0.4649, 4);
  });

  // The jackknife knows nothing of the formula.
  it("is that of leaving out one unit after the other, but for a few per cent", () => {
    const random = randomStream(3, "ratings");
    const counts = Array.from({ length: 120 }, () => {
      const lean = [0.9, 0.1, 0.5][Math.floor(3 * random.uniform())] ?? 0;
      const first = Array.from({ length: 5 }, () => random.uniform()).filter((u) => u < lean).length;
      const second = Math.round((5 - first) * random.uniform());
      return [first, second, 5 - first - second];
    });
    const without = counts.map((_, k) => fleissKappa(counts.filter((__, at) => at !== k)).kappa ?? 9);
    const mean = without.reduce((sum, kappa) => sum + kappa, 0) / without.length;
    const squares = without.reduce((sum, kappa) => sum + (kappa - mean) ** 2, 0);
    const byJackknife = Math.sqrt(((counts.length - 1) / counts.length) * squares);
    expect(Math.abs((fleissKappaOfUnits(counts).standardError ?? 9) / byJackknife - 1)).toBeLessThan(0.03);
  });
});

it("there is none where all agree, or where there is no kappa", () => {
  expect(
    cohenKappaOfUnits(
      unitsOf([
        [20, 0],
        [0, 30],
      ]),
    ),
  ).toMatchObject({ kappa: 1, standardError: null, CI95: null });
  expect(
    cohenKappaOfUnits(
      unitsOf([
        [20, 0],
        [0, 0],
      ]),
    ),
  ).toMatchObject({ kappa: null, standardError: null, CI95: null });
  expect(
    fleissKappaOfUnits([
      [3, 0],
      [0, 3],
    ]),
  ).toMatchObject({ kappa: 1, CI95: null });
  expect(fleissKappaOfUnits([[2, 1]])).toMatchObject({ standardError: null, CI95: null });
});

it("an interval has its kappa between its ends, and stays between -1 and 1", () => {
  const count = fc.integer({ min: 0, max: 9 });
  const pair = fc.tuple(count, count);
  fc.assert(
    fc.property(fc.tuple(pair, pair), (table) => {
      fc.pre(table.flat().some((n) => n > 0));
      const { kappa, CI95 } = cohenKappaOfUnits(unitsOf(table));
      if (kappa === null || CI95 === null) return;
      expect(CI95.lower).toBeLessThanOrEqual(kappa);
      expect(CI95.upper).toBeGreaterThanOrEqual(kappa);
      expect(CI95.lower).toBeGreaterThanOrEqual(-1);
      expect(CI95.upper).toBeLessThanOrEqual(1);
    }),
  );
});
