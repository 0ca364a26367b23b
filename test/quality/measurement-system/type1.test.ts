import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { type Type1Settings, type1 } from "../../../station/quality/measurement-system/type1.ts";
import { type1Report } from "../../../station/quality/measurement-system/type1-report.ts";
import { NoStudy } from "../../../station/quality/study-report.ts";
import { expectFinite } from "./finite-figures.ts";

const SETTINGS: Type1Settings = { reference: 6, tolerance: 1.2, spread: 6, share: 20 };

function reportOf(values: readonly number[], settings: Partial<Type1Settings> = {}) {
  const all = { ...SETTINGS, ...settings };
  return type1Report(values, type1(values, all), all);
}

/** Readings whose mean and standard deviation are the given ones to the last digits. */
function readings(n: number, mean: number, s: number): number[] {
  const random = randomStream(n, "type 1");
  const drawn = Array.from({ length: n }, () => random.normal());
  const middle = drawn.reduce((sum, value) => sum + value, 0) / n;
  const deviation = Math.sqrt(drawn.reduce((sum, value) => sum + (value - middle) ** 2, 0) / (n - 1));
  return drawn.map((value) => mean + (s * (value - middle)) / deviation);
}

describe("a type-1 study", () => {
  // Cg is 0.2 x 1.2 / (6 s): 1.33 at s 0.030075.
  it.each([
    { of: "a gauge that is fit", n: 50, mean: 6, s: 0.03, answer: "yes", says: "fit for this tolerance" },
    {
      of: "one that scatters a little too much",
      n: 50,
      mean: 6,
      s: 0.0302,
      answer: "no",
      says: "scatters too much",
    },
    {
      of: "one that stands off",
      n: 50,
      mean: 6.06,
      s: 0.02,
      answer: "no",
      says: "too far off the reference",
    },
    { of: "too few readings", n: 24, mean: 6, s: 0.02, answer: "none", says: "from 24 readings only" },
    { of: "few readings of a bad gauge", n: 10, mean: 6, s: 0.1, answer: "no", says: "scatters too much" },
  ])("of $of says $answer", ({ n, mean, s, answer, says }) => {
    const report = reportOf(readings(n, mean, s));
    expect(report.answer).toBe(answer);
    expect(report.conclusion).toContain(says);
    expect(report.figures.Cg).toBeCloseTo(0.04 / s, 9);
    expect(report.figures.Cgk).toBeCloseTo((0.12 - Math.abs(mean - 6)) / (3 * s), 9);
  });

  it("says which rule its indices are by, and how many readings are usual", () => {
    const { notes } = reportOf(readings(30, 6, 0.02), { spread: 4, share: 15 });
    expect(notes[0]).toContain(
      "Cg = 15 % of the tolerance / (4 s); Cgk = (7.5 % of the tolerance - |bias|) / (2 s)",
    );
    expect(notes[1]).toContain("30 readings: 25 are the least usual, 50 the advised number");
    expect(reportOf(readings(50, 6, 0.02)).notes.join()).not.toContain("least usual");
  });

  it("tells a bias beyond chance from one within", () => {
    expect(reportOf(readings(25, 6.01, 0.02)).figures.bias_is_significant).toBe(true);
    expect(reportOf(readings(25, 6.007, 0.02)).figures.bias_is_significant).toBe(false);
  });

  it.each([
    { value: 6, answer: "none", p: null },
    { value: 6.1, answer: "none", p: 0 },
    { value: 6.2, answer: "no", p: 0 },
  ])("where all readings are $value gives no index, and answers $answer", ({ value, answer, p }) => {
    for (const length of [25, 26, 27, 30, 50]) {
      const report = reportOf(Array.from({ length }, () => value));
      expect(report.answer).toBe(answer);
      expect(report.figures).toMatchObject({ s: 0, Cg: null, Cgk: null, t: null, p });
      expectFinite(report);
    }
  });

  it("takes the last digits of calculated values for rounding, and for no bias", () => {
    const report = reportOf(
      Array.from({ length: 30 }, () => 0.1 + 0.2),
      { reference: 0.3 },
    );
    expect(report.figures).toMatchObject({ s: 0, bias: 0, bias_is_significant: false });
  });

  it.each([
    { of: "one reading", values: [6], settings: {} },
    { of: "no reading", values: [], settings: {} },
    { of: "no tolerance", values: [6, 6.1], settings: { tolerance: 0 } },
    { of: "no share", values: [6, 6.1], settings: { share: 0 } },
  ])("is refused with $of", ({ values, settings }) => {
    expect(() => reportOf(values, settings)).toThrow(NoStudy);
  });

  it("covers the true Cg with its interval in about 95 of 100 studies", () => {
    const random = randomStream(11, "Cg");
    let covered = 0;
    for (let k = 0; k < 1000; k++) {
      const found = type1(
        Array.from({ length: 25 }, () => 6 + 0.02 * random.normal()),
        SETTINGS,
      );
      const { lower, upper } = found.Cg_CI95 ?? { lower: 0, upper: 0 };
      if (lower <= 2 && 2 <= upper) covered++;
    }
    expect(covered / 1000).toBeGreaterThan(0.93);
    expect(covered / 1000).toBeLessThan(0.97);
  });

  it("gives finite figures or a refusal, whatever the readings", () => {
    const number = fc.oneof(
      fc.double(),
      fc.integer({ min: -3, max: 3 }),
      fc.constantFrom(6, 6.1, 1e50, 1e-300),
    );
    fc.assert(
      fc.property(fc.array(number, { maxLength: 8 }), number, number, (values, reference, tolerance) => {
        try {
          expectFinite(reportOf(values, { reference, tolerance }));
        } catch (error) {
          if (!(error instanceof NoStudy)) throw error;
        }
      }),
      { numRuns: 300 },
    );
  });
});
