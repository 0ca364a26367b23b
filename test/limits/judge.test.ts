import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { conformanceProbability, guardedLimits, judge } from "../../limits/judge.ts";
import type { DecisionRule } from "../../limits/model.ts";

const simple: DecisionRule = { kind: "simple" };
const guarded95: DecisionRule = { kind: "guarded", conformance: 0.95 };

describe("simple acceptance", () => {
  test.each([
    [59.9, "pass"],
    [60, "pass"],
    [60.000_001, "fail"],
    [Number.NaN, "void"],
    [Number.POSITIVE_INFINITY, "void"],
    [Number.NEGATIVE_INFINITY, "void"],
  ])("a value of %d against at most 60 is %s", (value, verdict) => {
    expect(judge({ value, standardUncertainty: 1, upper: 60, rule: simple }).verdict).toBe(verdict);
  });

  test.each([
    [1009.9, "BELOW_LOWER_LIMIT"],
    [1010, undefined],
    [1290, undefined],
    [1290.000001, "ABOVE_UPPER_LIMIT"],
    [1009.999999, "BELOW_LOWER_LIMIT"],
  ])("a value of %d between 1010 and 1290 gives the reason %s", (value, why) => {
    const judged = judge({ value, standardUncertainty: 5, lower: 1010, upper: 1290, rule: simple });
    expect(judged.verdict === "pass" ? undefined : judged.why).toBe(why);
  });
});

describe("values that cannot be trusted", () => {
  test.each([-1, Number.NaN, Number.POSITIVE_INFINITY])("an uncertainty of %d makes the value void", (u) => {
    for (const rule of [simple, guarded95]) {
      expect(judge({ value: 1, standardUncertainty: u, upper: 60, rule })).toMatchObject({
        verdict: "void",
        why: "UNCERTAINTY_NOT_VALID",
        conformance: null,
      });
    }
  });

  test.each([
    ["no limit at all", {}],
    ["a limit that is no number", { upper: Number.NaN }],
    ["a lower limit above the upper", { lower: 2, upper: 1 }],
  ])("%s never lets a unit pass", (_what, limits) => {
    expect(judge({ value: 1, standardUncertainty: 0, rule: simple, ...limits })).toMatchObject({
      verdict: "void",
      why: "LIMITS_NOT_VALID",
    });
  });

  test.each([0.4, 1, Number.NaN])("a conformance of %d cannot be guarded for", (conformance) => {
    const rule: DecisionRule = { kind: "guarded", conformance };
    expect(judge({ value: 1, standardUncertainty: 1, upper: 60, rule }).verdict).toBe("void");
  });

  test("between limits too near for the uncertainty a value is void, outside of them it fails", () => {
    const asked = { standardUncertainty: 1, lower: 9, upper: 11, rule: guarded95 };
    expect(judge({ ...asked, value: 10 })).toMatchObject({ verdict: "void", why: "UNCERTAINTY_TOO_LARGE" });
    expect(judge({ ...asked, value: 11.5 })).toMatchObject({ verdict: "fail", why: "ABOVE_UPPER_LIMIT" });
  });
});

describe("guarded acceptance", () => {
  test("a value on the acceptance limit passes, the next number beyond fails", () => {
    const upper = guardedLimits(0.5, 0.95, undefined, 10)?.upper ?? Number.NaN;
    const asked = { standardUncertainty: 0.5, upper: 10, rule: guarded95 };
    expect(judge({ ...asked, value: upper }).verdict).toBe("pass");
    expect(judge({ ...asked, value: upper * (1 + Number.EPSILON) })).toMatchObject({
      why: "IN_UPPER_GUARD_BAND",
    });
  });

  test("without uncertainty it is simple acceptance", () => {
    expect(judge({ value: 10, standardUncertainty: 0, upper: 10, rule: guarded95 })).toMatchObject({
      verdict: "pass",
      conformance: 1,
    });
  });

  const cases = fc.record({
    lower: fc.double({ min: -100, max: 100, noNaN: true }),
    width: fc.double({ min: 0.01, max: 100, noNaN: true }),
    u: fc.double({ min: 1e-6, max: 50, noNaN: true }),
    at: fc.double({ min: -0.5, max: 1.5, noNaN: true }),
    conformance: fc.double({ min: 0.5, max: 0.9999, noNaN: true }),
    sides: fc.constantFrom("lower", "upper", "both"),
  });

  test("passes exactly the values whose conformance is at least the one asked for", () => {
    fc.assert(
      fc.property(cases, ({ lower, width, u, at, conformance, sides }) => {
        const limits = {
          ...(sides === "upper" ? {} : { lower }),
          ...(sides === "lower" ? {} : { upper: lower + width }),
        };
        const value = lower + at * width;
        const judged = judge({
          value,
          standardUncertainty: u,
          ...limits,
          rule: { kind: "guarded", conformance },
        });
        const probability = conformanceProbability(value, u, limits.lower, limits.upper);
        if (Math.abs(probability - conformance) < 1e-9) return;
        expect(judged.verdict === "pass").toBe(probability > conformance);
      }),
    );
  });

  test("a guarded pass is also a simple pass", () => {
    fc.assert(
      fc.property(cases, ({ lower, width, u, at, conformance }) => {
        const asked = { value: lower + at * width, standardUncertainty: u, lower, upper: lower + width };
        if (judge({ ...asked, rule: { kind: "guarded", conformance } }).verdict !== "pass") return;
        expect(judge({ ...asked, rule: simple }).verdict).toBe("pass");
      }),
    );
  });
});

test("the probability of a value far outside keeps its digits", () => {
  // mpmath: ncdf(-20)
  expect(conformanceProbability(30, 1, undefined, 10) / 2.75362411860623e-89).toBeCloseTo(1, 12);
  expect(conformanceProbability(-10, 1, 10, 1000) / 2.75362411860623e-89).toBeCloseTo(1, 12);
});

describe("many values against limits made ready", () => {
  const limit = fc.double({ min: -1e3, max: 1e3, noNaN: true });
  test("give what the acceptance limits say, however far the limits lie apart", () => {
    const rule = fc.oneof(
      fc.constant(simple),
      fc
        .double({ min: 0.5, max: 0.9999, noNaN: true })
        .map((conformance): DecisionRule => ({ kind: "guarded", conformance })),
    );
    const sides = fc.constantFrom("lower", "upper", "both");
    const width = fc.oneof(
      fc.double({ min: 0, max: 20, noNaN: true }),
      fc.double({ min: 20, max: 1e4, noNaN: true }),
    );
    const at = fc.double({ min: -0.3, max: 1.3, noNaN: true });
    // None, or more than the last digit of the largest limit: between limits that are neighbouring numbers there is no middle.
    const uncertainty = fc.oneof(
      { weight: 1, arbitrary: fc.constant(0) },
      { weight: 9, arbitrary: fc.double({ min: 1e-12, max: 10, noNaN: true }) },
    );
    fc.assert(
      fc.property(rule, sides, limit, width, at, uncertainty, (how, side, lower, wide, part, u) => {
        const limits = {
          ...(side === "upper" ? {} : { lower }),
          ...(side === "lower" ? {} : { upper: lower + wide }),
        };
        const accepted =
          how.kind === "simple" ? limits : guardedLimits(u, how.conformance, limits.lower, limits.upper);
        for (const value of [lower + part * wide, accepted?.lower ?? 0, accepted?.upper ?? 0]) {
          const { verdict } = judge({ value, standardUncertainty: u, rule: how, ...limits });
          const isOutside = value > (limits.upper ?? value) || value < (limits.lower ?? value);
          const isAccepted =
            accepted !== undefined &&
            value <= (accepted.upper ?? value) &&
            value >= (accepted.lower ?? value);
          expect(verdict).toBe(isOutside ? "fail" : !accepted ? "void" : isAccepted ? "pass" : "fail");
        }
      }),
      { numRuns: 1000 },
    );
  });
});
