import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { compareGroups } from "../../../station/quality/comparison/comparison.ts";
import { comparisonReport } from "../../../station/quality/comparison/comparison-report.ts";
import { SeededRandom } from "../../../station/quality/seeded-random.ts";
import { NoStudy } from "../../../station/quality/study-report.ts";

function values(n: number, mean: number, s: number, seed: number): number[] {
  const random = new SeededRandom(seed);
  return Array.from({ length: n }, () => mean + s * random.normal());
}

function study(
  groups: ReadonlyMap<string, readonly number[]>,
  limits: { lower?: number; upper?: number } = {},
) {
  const found = compareGroups(groups, limits);
  return { found, report: comparisonReport(groups, limits, found, { by: "cavity", unit: "mL/min" }) };
}

const CAVITIES = new Map([
  ["1", values(20, 20, 3, 1)],
  ["2", values(25, 20, 3, 2)],
  ["3", values(18, 29, 3, 3)],
]);

describe("a bad cavity among good ones", () => {
  it("is named with how much it is worse and how far its limit is, before units fail", () => {
    const { found, report } = study(CAVITIES, { upper: 38 });
    expect(found.method).toBe("Tukey-Kramer");
    expect(report.answer).toBe("no");
    expect(report.conclusion).toMatch(/^Cavity 3 is worse than every other/);
    const pair = found.pairs.find(({ a, b }) => a === "3" && b === "1") ?? expect.fail("no pair");
    expect(pair.lower).toBeLessThan(9);
    expect(pair.upper).toBeGreaterThan(9);
    expect(found.groups[0]?.distance).toBeCloseTo(38 - (found.groups[0]?.sample.mean ?? 0), 9);
  });

  it("does no harm where even its limit is four standard deviations away", () => {
    expect(study(CAVITIES, { upper: 90 }).report.answer).toBe("marginal");
  });

  it("is the one with the lowest mean where there is a lower limit", () => {
    expect(study(CAVITIES, { lower: 0 }).found.groups[0]?.name).not.toBe("3");
  });
});

it("the mean of a group has the interval of Student's t by its own scatter", () => {
  const { groups } = compareGroups(
    new Map([
      ["a", [1, 2, 3, 4, 5]],
      ["b", [2, 9]],
    ]),
  );
  const [low = 0, high = 0] = groups.find(({ name }) => name === "a")?.mean_CI95 ?? [];
  // t(0.975, 4) = 2.776445 of the tables.
  expect(high - low).toBeCloseTo(2 * 2.776445 * Math.sqrt(2.5 / 5), 5);
});

it("cavities that are alike are said to be", () => {
  const alike = new Map([
    ["1", values(20, 20, 3, 11)],
    ["2", values(20, 20, 3, 12)],
  ]);
  expect(study(alike).report.answer).toBe("yes");
});

it("groups of unlike scatter are held against each other by Welch's test and the pairs of Games and Howell", () => {
  const unlike = new Map([
    ["1", values(20, 20, 1, 1)],
    ["2", values(25, 25, 7, 2)],
    ["3", [21]],
  ]);
  const { found, report } = study(unlike, { upper: 60 });
  expect(found.method).toBe("Games-Howell");
  expect(found.p).toBe(found.welch?.p);
  expect(found.pairs).toHaveLength(1);
  expect(report.notes.join(" ")).toContain("Of one value only: 3");
});

it.each([
  { groups: { a: [1, 2, 3] }, says: /one group, a/ },
  { groups: { a: [1], b: [2] }, says: /Each group has one value/ },
  { groups: { a: [1, 1], b: [2, 2] }, says: /all values are the same/ },
  { groups: { a: [1, 1e300], b: [2, 2] }, says: /another unit/ },
])("what can't be compared is refused: $says", ({ groups, says }) => {
  expect(() => study(new Map(Object.entries(groups as Record<string, number[]>)))).toThrow(says);
});

it("any groups give finite figures or a refusal; order and unit change nothing", () => {
  const group = fc.array(
    fc.oneof(fc.double({ noNaN: true, noDefaultInfinity: true }), fc.integer({ min: -3, max: 30 })),
    { minLength: 1, maxLength: 6 },
  );
  fc.assert(
    fc.property(fc.array(group, { minLength: 1, maxLength: 3 }), (drawn) => {
      const groups = new Map(drawn.map((it, k) => [String(k), it]));
      try {
        const { found, report } = study(groups, { upper: 40 });
        expect(JSON.stringify(report.figures)).toBe(
          JSON.stringify(report.figures, (_, it) =>
            typeof it === "number" && !Number.isFinite(it) ? "bad" : it,
          ),
        );
        const doubled = study(
          new Map([...groups].map(([name, it]) => [name, it.toReversed().map((v) => 2 * v)])),
        );
        expect(doubled.found.anova.F / (found.anova.F || 1)).toBeCloseTo(
          found.anova.F === 0 ? doubled.found.anova.F : 1,
          5,
        );
      } catch (error) {
        if (!(error instanceof NoStudy)) throw error;
      }
    }),
    { numRuns: 60 },
  );
});
