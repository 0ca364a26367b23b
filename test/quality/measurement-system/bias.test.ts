import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { biasReport } from "../../../station/quality/measurement-system/bias-report.ts";
import { biasStudy, type ReferredReading } from "../../../station/quality/measurement-system/linearity.ts";
import { NoStudy } from "../../../station/quality/study-report.ts";
import { expectFinite } from "./finite-figures.ts";

const REFERENCES = [2, 4, 6, 8, 10];

/** The same scatter at each reference, mean zero, standard deviation 0.1. */
function readings(
  n: number,
  biasOf: (reference: number) => number,
  references = REFERENCES,
): ReferredReading[] {
  const random = randomStream(n, "bias");
  const drawn = Array.from({ length: n }, () => random.normal());
  const middle = drawn.reduce((sum, value) => sum + value, 0) / n;
  const s = Math.sqrt(drawn.reduce((sum, value) => sum + (value - middle) ** 2, 0) / (n - 1));
  return references.flatMap((reference) =>
    drawn.map((value) => ({
      reference,
      value: reference + biasOf(reference) + (0.1 * (value - middle)) / s,
    })),
  );
}

function reportOf(given: readonly ReferredReading[], tolerance?: number, rangeEstimate = false) {
  return biasReport(given, biasStudy(given), { tolerance, rangeEstimate });
}

describe("a study of bias and linearity", () => {
  // The interval reaches 0.0715 either way: t(0.975, 9) x 0.1 / sqrt(10).
  it.each([
    { of: "no bias", biasOf: () => 0, answer: "yes", says: "No bias and no change" },
    { of: "a bias of 0.08 everywhere", biasOf: () => 0.08, answer: "no", says: "biased at 2, 4, 6, 8, 10" },
    {
      of: "0.08 at one reference",
      biasOf: (at: number) => (at === 6 ? 0.08 : 0),
      answer: "no",
      says: "biased at 6:",
    },
    { of: "0.06 everywhere", biasOf: () => 0.06, answer: "no", says: "All references together" },
    { of: "-0.06 everywhere", biasOf: () => -0.06, answer: "no", says: "All references together" },
    {
      of: "a bias that grows",
      biasOf: (at: number) => 0.02 * (at - 6),
      answer: "no",
      says: "its bias rises",
    },
    { of: "one that falls", biasOf: (at: number) => 0.02 * (6 - at), answer: "no", says: "its bias falls" },
  ])("finds $of", ({ biasOf, answer, says }) => {
    const report = reportOf(readings(10, biasOf));
    expect(report.answer).toBe(answer);
    expect(report.conclusion).toContain(says);
  });

  it("does not call a gauge free of bias from fewer than ten readings", () => {
    expect(reportOf(readings(9, () => 0)).answer).toBe("none");
    expect(reportOf(readings(9, () => 0.2)).answer).toBe("no");
  });

  it("is of the bias alone with one reference", () => {
    const report = reportOf(
      readings(12, () => 0.2, [6]),
      4,
    );
    expect(report.figures).not.toHaveProperty("slope");
    expect(report.figures.bias).toBeCloseTo(0.2, 12);
    expect(report.figures.pct_tolerance_bias).toBeCloseTo(5, 9);
    expect(report.notes.join()).toContain("One reference");
    expect(report.answer).toBe("no");
  });

  it("gives the line's coefficients and a band that has its interval at zero", () => {
    const { linearity } = biasStudy(readings(10, (at) => 0.1 + 0.03 * at));
    expect(linearity?.slope.value).toBeCloseTo(0.03, 12);
    expect(linearity?.intercept.value).toBeCloseTo(0.1, 12);
    expect(linearity?.bandAt(0).lower).toBeCloseTo(linearity?.intercept.CI95.lower ?? 9, 12);
    const [near, far] = [linearity?.bandAt(6), linearity?.bandAt(12)];
    expect((far?.upper ?? 0) - (far?.lower ?? 0)).toBeGreaterThan((near?.upper ?? 9) - (near?.lower ?? 0));
  });

  it.each([
    { of: "at the references", off: 0, answer: "none", slope: 0 },
    { of: "off by the same", off: 0.1, answer: "no", slope: 0 },
  ])("answers without NaN where readings never differ, $of", ({ off, answer, slope }) => {
    const report = reportOf(
      [1.1, 2.2, 3.3].flatMap((reference) =>
        Array.from({ length: 10 }, () => ({ reference, value: reference + off })),
      ),
    );
    expect(report.answer).toBe(answer);
    expect(report.figures).toMatchObject({ s: 0, t_slope: null, slope });
    expectFinite(report);
  });

  // AIAG, Measurement Systems Analysis, 4th ed., appendix C, from memory: 1.0, 3.8, 7.7, 13.4 for one subgroup.
  it.each([
    { n: 2, df: 1 },
    { n: 5, df: 3.8 },
    { n: 10, df: 7.7 },
    { n: 20, df: 13.4 },
  ])("has $df degrees of freedom by the range of $n readings", ({ n, df }) => {
    const report = reportOf(
      readings(n, () => 0.2, [6]),
      undefined,
      true,
    );
    const [estimate] = report.figures.range_estimate as { df: number; p: number }[];
    expect(estimate?.df).toBeCloseTo(df, 1);
    expect(estimate?.p).toBeLessThan(0.5);
  });

  it("takes the last digits of calculated values for rounding, by the range too", () => {
    const given = [0.1 + 0.2, 0.3, 0.3].map((value) => ({ reference: 0.3, value }));
    const [estimate] = reportOf(given, undefined, true).figures.range_estimate as {
      sigma_r: number;
      p: null;
    }[];
    expect(estimate).toMatchObject({ sigma_r: 0, t: null, p: null });
  });

  it("is refused with one reading", () => {
    expect(() => reportOf([{ reference: 1, value: 1 }])).toThrow(NoStudy);
    expect(() => reportOf([])).toThrow(NoStudy);
  });

  it("has the same t whatever the scale, the same bias whatever the zero, in any order of rows", () => {
    fc.assert(
      fc.property(
        fc.integer(),
        fc.double({ min: 0.01, max: 100, noNaN: true }),
        fc.double({ min: -100, max: 100, noNaN: true }),
        (seed, scale, shift) => {
          const random = randomStream(seed, "linearity");
          const given = [1, 2, 5].flatMap((reference) =>
            [1, 2, 3, 4].map(() => ({ reference, value: reference + 0.1 * random.normal() })),
          );
          const mixed = given
            .map((reading) => ({ reading, at: random.uniform() }))
            .sort((a, b) => a.at - b.at)
            .map(({ reading }) => reading);
          expect(biasReport(mixed, biasStudy(mixed)).figures).toEqual(reportOf(given).figures);
          const moved = given.map(({ reference, value }) => ({
            reference: scale * (reference + shift),
            value: scale * (value + shift),
          }));
          const [was, is] = [biasStudy(given), biasStudy(moved)];
          expect(is.linearity?.slope.t).toBeCloseTo(was.linearity?.slope.t ?? Number.NaN, 6);
          expect(is.linearity?.slope.value).toBeCloseTo(was.linearity?.slope.value ?? Number.NaN, 8);
          for (const [k, at] of was.references.entries()) {
            expect(is.references[k]?.t).toBeCloseTo(at.t ?? Number.NaN, 6);
            expect((is.references[k]?.bias ?? Number.NaN) / scale).toBeCloseTo(at.bias, 9);
          }
        },
      ),
      { numRuns: 60 },
    );
  });

  it("gives finite figures or a refusal, whatever the readings", () => {
    const number = fc.oneof(
      fc.double(),
      fc.integer({ min: -2, max: 2 }),
      fc.constantFrom(6, 6.1, 1e50, 1e-300, 2e-300, 6 + 1e-15),
    );
    fc.assert(
      fc.property(fc.array(fc.record({ reference: number, value: number }), { maxLength: 12 }), (given) => {
        try {
          expectFinite(reportOf(given, 0.5));
          expectFinite(reportOf(given, 0.5, true));
        } catch (error) {
          if (!(error instanceof NoStudy)) throw error;
        }
      }),
      { numRuns: 400 },
    );
  });
});
