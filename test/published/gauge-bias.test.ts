import { describe, expect, it } from "vitest";
import { biasReport } from "../../station/quality/measurement-system/bias-report.ts";
import { biasStudy } from "../../station/quality/measurement-system/linearity.ts";
import { type1 } from "../../station/quality/measurement-system/type1.ts";

// AIAG, Measurement Systems Analysis, 4th ed., chapter III B: the bias example (15 readings of a piece of 6.00) and the linearity
// example (12 readings of each of five pieces).
const BIAS = [5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1, 6.2, 5.6, 6.0];
const LINEARITY: Readonly<Record<number, readonly number[]>> = {
  2: [2.7, 2.5, 2.4, 2.5, 2.7, 2.3, 2.5, 2.5, 2.4, 2.4, 2.6, 2.4],
  4: [5.1, 3.9, 4.2, 5, 3.8, 3.9, 3.9, 3.9, 3.9, 4, 4.1, 3.8],
  6: [5.8, 5.7, 5.9, 5.9, 6, 6.1, 6, 6.1, 6.4, 6.3, 6, 6.1],
  8: [7.6, 7.7, 7.8, 7.7, 7.8, 7.8, 7.8, 7.7, 7.8, 7.5, 7.6, 7.7],
  10: [9.1, 9.3, 9.5, 9.3, 9.4, 9.5, 9.5, 9.5, 9.6, 9.2, 9.3, 9.4],
};

function figuresOf(readings: readonly { readonly reference: number; readonly value: number }[]) {
  return biasReport(readings, biasStudy(readings)).figures;
}

describe("bias and linearity", () => {
  // R's t.test; the manual's third edition takes the range for the spread and differs in the third digit.
  it.each([
    {
      of: "all 15 readings",
      values: BIAS,
      bias: 0.006666666667,
      s: 0.2120197655,
      t: 0.1217805751,
      CI95: [-0.1107459659, 0.1240792992],
    },
    {
      of: "the first ten",
      values: BIAS.slice(0, 10),
      bias: 0.02,
      s: 0.21499354,
      t: 0.2941742027,
      CI95: [-0.1337971135, 0.1737971135],
    },
  ])("gives R's t test of AIAG's bias example: $of", ({ values, ...expected }) => {
    const figures = figuresOf(values.map((value) => ({ reference: 6, value })));
    expect(figures.bias).toBeCloseTo(expected.bias, 8);
    expect(figures.s).toBeCloseTo(expected.s, 8);
    expect(figures.t).toBeCloseTo(expected.t, 8);
    const [lower, upper] = figures.CI95 as [number, number];
    expect(lower).toBeCloseTo(expected.CI95[0] ?? Number.NaN, 8);
    expect(upper).toBeCloseTo(expected.CI95[1] ?? Number.NaN, 8);
  });

  // AIAG, Measurement Systems Analysis, 3rd ed., from memory: sigma_r 0.22514 (d2* 3.55333, 10.8 degrees of freedom), t 0.1153,
  // interval -0.1185 to 0.1319; its factors are rounded.
  it("comes near the third edition's figures with the range for the spread", () => {
    const readings = BIAS.map((value) => ({ reference: 6, value }));
    const { figures } = biasReport(readings, biasStudy(readings), { rangeEstimate: true });
    const [estimate] = figures.range_estimate as { sigma_r: number; df: number; t: number; CI95: number[] }[];
    expect(estimate?.sigma_r).toBeCloseTo(0.22514, 4);
    expect(estimate?.df).toBeCloseTo(10.8, 1);
    expect(estimate?.t).toBeCloseTo(0.1147, 3);
    expect(estimate?.CI95[0]).toBeCloseTo(-0.1186, 3);
    expect(estimate?.CI95[1]).toBeCloseTo(0.132, 3);
  });

  // Published: slope -0.13167, intercept 0.73667, s 0.23954, R2 71.4 %, t -12.043 and 10.158. More digits: R's lm.
  it("gives the manual's regression of its linearity example", () => {
    const figures = figuresOf(
      Object.entries(LINEARITY).flatMap(([reference, values]) =>
        values.map((value) => ({ reference: Number(reference), value })),
      ),
    );
    const expected = {
      slope: -0.1316666667,
      intercept: 0.7366666667,
      s: 0.2395397886,
      r2: 0.7143184159,
      t_slope: -12.04255941,
      t_intercept: 10.15751886,
    };
    for (const [name, value] of Object.entries(expected))
      expect(Math.abs(Number(figures[name]) / value - 1), name).toBeLessThan(1e-8);
    const means = [0.4916666667, 0.125, 0.025, -0.2916666667, -0.6166666667];
    for (const [k, bias] of (figures.mean_bias as number[]).entries())
      expect(bias).toBeCloseTo(means[k] ?? Number.NaN, 9);
    expect(figures.linearity_is_significant).toBe(true);
  });
});

describe("a type-1 study", () => {
  // Invented readings; the definitions in NumPy.
  it.each([
    { spread: 6, Cg: 2.755891273, Cgk: 2.581351492 },
    { spread: 4, Cg: 4.13383691, Cgk: 3.872027238 },
  ] as const)(
    "has Cg and Cgk by their definition with $spread standard deviations",
    ({ spread, Cg, Cgk }) => {
      const values =
        "6.01 5.99 6.02 6.00 6.03 5.98 6.01 6.02 6.00 5.99 6.01 6.03 6.02 6.00 6.01 5.98 6.02 6.01 6.00 6.03 6.01 5.99 6.02 6.00 6.01"
          .split(" ")
          .map(Number);
      const found = type1(values, { reference: 6, tolerance: 1.2, spread, share: 20 });
      expect(found.mean).toBeCloseTo(6.0076, 10);
      expect(found.s).toBeCloseTo(0.0145143607, 9);
      expect(found.Cg).toBeCloseTo(Cg, 8);
      expect(found.Cgk).toBeCloseTo(Cgk, 8);
    },
  );
});
