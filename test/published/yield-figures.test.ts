import { describe, expect, it } from "vitest";
import type { StoredForm } from "../../station/records/stored-values.ts";
import type { Fate } from "../../station/yield/unit-fate.ts";
import {
  defectsPerMillion,
  rolledThroughputYield,
  share,
  YieldTally,
} from "../../station/yield/yield-tally.ts";

// ISO 22400-2:2014: first pass yield = good parts at first inspection by inspected parts; quality ratio = good quantity by
// produced quantity; rework and scrap ratio = rework and scrap quantity by produced quantity (definitions from memory, the text was
// not readable). The worked table's counts are invented, its results follow from the definitions by hand.
describe("the ratios of ISO 22400-2 on a worked table", () => {
  const form = (verdict: StoredForm["verdict"]): StoredForm => ({
    model: "TUB-12",
    recordKind: "unit",
    kind: "first",
    draft: false,
    station: "line 1",
    simulated: false,
    verdict,
    codes: verdict === "fail" ? ["OUT_OF_LIMITS"] : [],
    limitFile: { revision: 1, sha256: "a".repeat(64) },
    characteristics: [],
    airflow: [],
  });
  const [passed, failed] = [form("pass"), form("fail")];
  const repaired = { form: failed, isGoodAtFirst: false, retest: "none" } as const;
  const units: readonly (readonly [Fate, number])[] = [
    [{ form: passed, isGoodAtFirst: true, retest: "none", rework: "none", now: "good" }, 451],
    [{ ...repaired, rework: "passed", now: "good" }, 19],
    [{ ...repaired, rework: "not passed", now: "scrapped" }, 3],
    [{ ...repaired, rework: "none", now: "scrapped" }, 7],
  ];
  const tally = new YieldTally();
  for (const [fate, count] of units) tally.addUnits(fate, count);
  const counts = tally.counts();

  it.each([
    { ratio: "first pass yield", found: counts.firstPass, is: 0.9395833333, of: 480 },
    { ratio: "quality ratio", found: counts.good, is: 0.9791666667, of: 480 },
    { ratio: "rework ratio", found: counts.reworked, is: 0.04583333333, of: 480 },
    { ratio: "scrap ratio", found: counts.scrapped, is: 0.02083333333, of: 480 },
  ])("$ratio is $is", ({ found, is, of }) => {
    expect(found.of).toBe(of);
    expect(Math.abs((found.value ?? 0) / is - 1)).toBeLessThan(1e-9);
  });

  it("and every unit is in one of good, failed, held and scrapped", () => {
    const { good, failed: bad, held, scrapped, inspected } = counts;
    expect(good.count + bad.count + held.count + scrapped.count).toBe(inspected);
    expect(inspected).toBe(480);
  });

  it("of no parts no yield is told, neither 0 nor 1", () => {
    expect(share(0, 0)).toEqual({ count: 0, of: 0, value: null, lower: null, upper: null });
  });
});

// Rolled throughput yield is the product of the steps' first pass yields: the products, by hand.
describe("rolled throughput yield", () => {
  it.each([
    { steps: [0.97, 0.985, 0.992], is: 0.9478064 },
    { steps: [0.981, 0.9935, 0.9702, 0.9988], is: 0.944445024 },
  ])("of $steps is $is", ({ steps, is }) => {
    expect(Math.abs((rolledThroughputYield(steps) ?? 0) / is - 1)).toBeLessThan(1e-9);
  });

  it("is not told where a step was never got to", () => {
    expect(rolledThroughputYield([0.97, null])).toBeNull();
    expect(rolledThroughputYield([])).toBeNull();
  });
});

// Defects per million opportunities = 1e6 defects by (units x opportunities), common practice: the quotient, by hand.
describe("defects per million opportunities", () => {
  it("of 37 defects in 480 units with 3 opportunities each are 25694.44444", () => {
    expect(Math.abs((defectsPerMillion(37, 480 * 3) ?? 0) / 25694.44444 - 1)).toBeLessThan(1e-6);
  });

  it("are not told without an opportunity", () => expect(defectsPerMillion(0, 0)).toBeNull());
});
