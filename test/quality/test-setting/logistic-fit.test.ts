import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { NoStudy } from "../../../station/quality/study-report.ts";
import { fieldLimitReport } from "../../../station/quality/test-setting/limit-report.ts";
import {
  atProbability,
  type BinaryPoint,
  fitLogistic,
} from "../../../station/quality/test-setting/logistic-fit.ts";

const made = (...values: readonly (readonly [number, 0 | 1])[]): BinaryPoint[] =>
  values.map(([x, event]) => ({ x, event: event === 1 }));

describe("field data that give no fit", () => {
  it.each([
    ["no return", made([1, 0], [2, 0]), /^No unit was returned/],
    ["nothing but returns", made([1, 1], [2, 1]), /^Every unit was returned/],
    [
      "returns above a value and none below",
      made([1, 0], [30, 0], [40, 1], [50, 1]),
      /^All returned units leak 40 or more, all others 30 or less.*A limit of 30 would have kept every return back/,
    ],
    ["ones that only touch", made([1, 0], [30, 0], [30, 1], [50, 1]), /30 or more, all others 30 or less/],
    ["returns below and none above", made([1, 1], [2, 1], [3, 0], [4, 0]), /it was not the leak/],
    ["one value only", made([5, 0], [5, 1]), /^Every unit leaks 5/],
  ])("%s: a sentence that says what to do", (_, points, sentence) => {
    expect(() => fitLogistic(points)).toThrow(NoStudy);
    expect(() => fitLogistic(points)).toThrow(sentence);
  });

  it("more leak and not more returns is told, and no limit given", () => {
    const flat = made([1, 1], [1, 0], [2, 0], [2, 1], [3, 1], [3, 0]);
    expect(() => atProbability(flat, fitLogistic(flat), 0.1)).toThrow(/does not make a return more probable/);
  });
});

describe("whatever was sold and came back", () => {
  const sold = fc.array(fc.record({ x: fc.double({ min: 0, max: 1e4, noNaN: true }), event: fc.boolean() }), {
    minLength: 2,
    maxLength: 60,
  });

  it("there is a fit whose expected returns are those counted, or a refusal", () => {
    // As a gauge shows them: of leaks a billionth of a unit apart digits are lost.
    const shown = sold.map((points) => points.map(({ x, event }) => ({ x: Math.round(x * 10) / 10, event })));
    fc.assert(
      fc.property(shown, (points) => {
        try {
          const { intercept, slope } = fitLogistic(points);
          const expected = points.reduce(
            (sum, { x }) => sum + 1 / (1 + Math.exp(-(intercept + slope * x))),
            0,
          );
          // The score equation of the intercept.
          expect(expected).toBeCloseTo(points.filter(({ event }) => event).length, 4);
        } catch (error) {
          if (!(error instanceof NoStudy)) throw error;
        }
      }),
      { numRuns: 200 },
    );
  });

  it("there is a limit within the interval and no NaN, or a refusal", () => {
    fc.assert(
      fc.property(sold, fc.double({ min: 0.001, max: 0.9, noNaN: true }), (points, probability) => {
        try {
          const fit = fitLogistic(points);
          const at = atProbability(points, fit, probability);
          expect(at.lower).toBeLessThanOrEqual(at.value);
          expect(at.upper).toBeGreaterThanOrEqual(at.value);
          const { figures } = fieldLimitReport(
            { points, fit, probability, at },
            {
              ...{ model: "M", unit: "mL/min", unitInFile: "mL/min @ 20 degC", present: 60 },
              ...{ stationGuard: 0.5, guardText: "", notes: [] },
            },
          );
          const { limit } = figures;
          if (limit !== null) expect(limit).toBeLessThanOrEqual(at.lower);
          for (const value of Object.values(figures)) {
            if (typeof value === "number") expect(Number.isFinite(value)).toBe(true);
          }
        } catch (error) {
          if (!(error instanceof NoStudy)) throw error;
        }
      }),
      { numRuns: 100 },
    );
  });
});
