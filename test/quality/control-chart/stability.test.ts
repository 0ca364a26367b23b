import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import {
  lineThrough,
  type ReferenceCheck,
  stabilityOf,
} from "../../../station/quality/control-chart/stability.ts";
import { stabilityReport } from "../../../station/quality/control-chart/stability-report.ts";
import { NoStudy } from "../../../station/quality/study-report.ts";

const DAY_S = 86_400;

/** A check a day of a piece certified at 30. */
function checks(count: number, off: (day: number) => number = () => 0, seed = 2): ReferenceCheck[] {
  const random = randomStream(seed, "checks");
  return Array.from({ length: count }, (_, day) => ({
    value: 30 + 0.4 * random.normal() + off(day),
    reference: 30,
    time_s: day * DAY_S,
  }));
}

describe("the stability of reference checks", () => {
  it("is a yes where nothing changes", () => {
    const report = stabilityReport(checks(60), { tolerance: 5 });
    expect(report.answer).toBe("yes");
    expect(report.figures.signals).toEqual([]);
    expect(report.figures.is_drifting).toBe(false);
    expect(report.conclusion).toMatch(/^The station stands still: no signal and no drift in 60 checks/);
  });

  it("finds a drift, how large it is and when the tolerance is reached; within the tolerance it is marginal", () => {
    const report = stabilityReport(
      checks(60, (day) => 0.05 * day),
      { tolerance: 5 },
    );
    const [low, high] = report.figures.drift_CI95 as [number, number];
    expect(low).toBeLessThan(0.05);
    expect(high).toBeGreaterThan(0.05);
    expect(high - low).toBeLessThan(0.02);
    expect(Math.abs(Number(report.figures.until_tolerance) - 42)).toBeLessThan(12);
    expect(report.answer).toBe("marginal");
    expect(report.conclusion).toMatch(
      /drifts by \+0\.0[45]\d* a day .* the tolerance is reached in \d+ days/,
    );
  });

  it("is a no where a reading is off by more than the tolerance, or something changed and no tolerance is stated", () => {
    const step = checks(60, (day) => (day < 30 ? 0 : 2));
    expect(stabilityReport(step, {}).answer).toBe("no");
    expect(stabilityReport(step, { tolerance: 1 }).answer).toBe("no");
    expect(
      stabilityReport(
        checks(60, () => 6),
        { tolerance: 5 },
      ).answer,
    ).toBe("no");
  });

  it("is held against the certified value: a station that always reads off is not as certified", () => {
    const report = stabilityReport(
      checks(60, () => 1),
      {},
    );
    expect(report.answer).toBe("no");
    expect(Number(report.figures.bias)).toBeCloseTo(1, 0);
    expect(report.notes.join(" ")).toMatch(/may be the piece's/);
    const blind = checks(60, () => 1).map((check) => ({ ...check, reference: null }));
    expect(stabilityReport(blind, {}).answer).toBe("yes");
  });

  it("follows a piece that was certified anew: what counts is how far off it reads", () => {
    const recertified = checks(60).map((check, day) =>
      day < 30 ? check : { ...check, value: check.value + 7, reference: 37 },
    );
    expect(stabilityReport(recertified, { tolerance: 5 }).answer).toBe("yes");
  });

  it("puts checks in the order of their times, and counts checks where there are none", () => {
    const timed = checks(30, (day) => 0.2 * day);
    const shuffled = [...timed].reverse();
    expect(stabilityOf(shuffled).drift).toEqual(stabilityOf(timed).drift);
    const counted = stabilityOf(timed.map((check) => ({ ...check, time_s: null })));
    expect(counted.drift.per).toBe("check");
    expect(counted.drift.slope).toBeCloseTo(stabilityOf(timed).drift.slope, 9);
  });

  it("does not say of a handful of checks that the station stands still", () => {
    const report = stabilityReport(checks(6), { tolerance: 5 });
    expect(report.answer).toBe("none");
    expect(report.conclusion).toMatch(/too few/);
  });

  it.each([
    ["too few checks", checks(3), {}, /3 checks are too few/],
    ["readings that are all equal", checks(8).map((check) => ({ ...check, value: 30 })), {}, /equal/],
    [
      "a certified value that is missing here and there",
      checks(8).map((check, i) => (i === 3 ? { ...check, reference: null } : check)),
      {},
      /Check 4 has no certified value/,
    ],
    [
      "a time that is missing here and there",
      checks(8).map((check, i) => (i === 0 ? { ...check, time_s: null } : check)),
      {},
      /Check 1 has no time/,
    ],
    ["one time for all", checks(8).map((check) => ({ ...check, time_s: 5 })), {}, /same time/],
    ["a tolerance of nothing", checks(8), { tolerance: 0 }, /above 0/],
    [
      "a tolerance and no certified values",
      checks(8).map((check) => ({ ...check, reference: null })),
      { tolerance: 1 },
      /column reference/,
    ],
  ] as const)("can't be told from %s", (_, given, options, words) => {
    expect(() => stabilityReport(given, options)).toThrow(NoStudy);
    expect(() => stabilityReport(given, options)).toThrow(words);
  });
});

it("a line through points on a line has their slope and no doubt", () => {
  const { slope, CI95 } = lineThrough([0, 1, 2, 5], [3, 1, -1, -7]);
  expect(slope).toBeCloseTo(-2, 12);
  expect(CI95[1] - CI95[0]).toBeLessThan(1e-12);
});
