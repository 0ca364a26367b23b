import { describe, expect, it } from "vitest";
import { normalCdf } from "../../../limits/normal.ts";
import { plannedLooks } from "../../../station/measure/leak/planned-looks.ts";
import { earlyRisks } from "../../../station/quality/test-setting/early-risks.ts";
import { chancesWithLooks, type Look } from "../../../station/quality/test-setting/early-stops.ts";

const RULE = { measureShortest_s: 2, lookEvery_s: 0.5, falseAccept: 0.002, falseReject: 0.01 };
/** As a slope's noise falls; 20 after 2 s is a third of the limit. */
const uncertaintyAfter = (elapsed_s: number) => 20 * (2 / elapsed_s) ** 1.5;
const planned = plannedLooks(60, RULE, 16, uncertaintyAfter);

function looks(changed: { readonly bias?: number; readonly times?: number } = {}): Look[] {
  const { bias = 0, times = 1 } = changed;
  return planned.map((look) => ({ ...look, bias, sd: times * uncertaintyAfter(look.after_s) }));
}

const LAST = { bias: 0, sd: uncertaintyAfter(16), accepts: 58 };

describe("verdicts with looks", () => {
  it("are those of the end where there are none", () => {
    const at = chancesWithLooks([], { bias: 1, sd: 3, accepts: 55 });
    for (const truth of [40, 54, 60]) {
      expect(at(truth).pass).toBeCloseTo(normalCdf((54 - truth) / 3), 3);
      expect(at(truth).pass + at(truth).fail).toBeCloseTo(1, 9);
    }
  });

  it("pass or fail a unit at the limit early as often as the limit file's risks say, and no more", () => {
    const passing = looks().map((look) => ({ ...look, failsFrom: Number.POSITIVE_INFINITY }));
    const failing = looks().map((look) => ({ ...look, passesTo: Number.NEGATIVE_INFINITY }));
    const total = (some: readonly Look[]) =>
      chancesWithLooks(some, LAST)(60).early.reduce((sum, one) => sum + one, 0);
    // What the looks too vague to pass by would have had of the risk is not spent.
    expect(total(passing)).toBeLessThan(0.002 * 1.03);
    expect(total(passing)).toBeGreaterThan(0.001);
    expect(total(failing)).toBeLessThan(0.01 * 1.03);
    expect(total(failing)).toBeGreaterThan(0.009);
  });

  it("are wrong more often where errors are larger than the budget says, or shifted", () => {
    const production = [{ mean: 66, sd: 0, weight: 1 }];
    const passes = (some: readonly Look[]) => earlyRisks(some, LAST, production, 60).accepted(66);
    expect(passes(looks({ times: 1.5 }))).toBeGreaterThan(4 * passes(looks()));
    expect(passes(looks({ bias: -10 }))).toBeGreaterThan(4 * passes(looks()));
  });

  it("come early for good units, and later the nearer they are to the limit", () => {
    const usual = (mean: number) => earlyRisks(looks(), LAST, [{ mean, sd: 1, weight: 1 }], 60);
    expect(usual(5).decided).toBeGreaterThan(0.99);
    expect(usual(5).usualAfter_s).toBeLessThan(4);
    expect(usual(45).usualAfter_s).toBeGreaterThan(usual(5).usualAfter_s ?? Number.NaN);
    expect(usual(59).decided).toBeLessThan(0.2);
    expect(usual(59).usualAfter_s).toBeNull();
  });
});
