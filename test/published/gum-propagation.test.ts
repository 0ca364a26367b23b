import { describe, expect, test } from "vitest";
import { propagate, type UncertainInput } from "../../station/measure/fit/propagation.ts";

describe("the gauge block of GUM H.1 (JCGM 100:2008, inputs from public transcriptions, results from memory)", () => {
  const input = (component: string, estimate: number, uncertainty: number): UncertainInput => ({
    component,
    estimate,
    uncertainty,
    unit: "SI",
  });
  const inputs = [
    input("standard", 0.050000623, 25e-9),
    input("difference", 215e-9, Math.hypot(5.8e-9, 3.9e-9, 6.7e-9)),
    input("difference of expansions", 0, 1e-6 / Math.sqrt(3)),
    input("expansion", 11.5e-6, 2e-6 / Math.sqrt(3)),
    input("difference of temperatures", 0, 0.05 / Math.sqrt(3)),
    input("temperature", -0.1, Math.hypot(0.2, 0.5 / Math.SQRT2)),
  ];
  const [length] = propagate(inputs, ([ls = 0, d = 0, dAlpha = 0, alpha = 0, dTheta = 0, theta = 0]) => [
    ls + d - ls * (dAlpha * theta + alpha * dTheta),
  ]);

  test("it is 50.000838 mm long with 32 nm", () => {
    expect(length?.value).toBeCloseTo(0.050000838, 12);
    expect((length?.uncertainty ?? 0) * 1e9).toBeCloseTo(31.66, 1);
  });

  test("standard, comparator, expansions and temperatures bring 25, 9.7, 2.9 and 16.6 nm, and nothing else does", () => {
    const brought = new Map(length?.budget.map((line) => [line.component, line.contribution * 1e9]));
    expect([...brought.keys()]).toEqual([
      "standard",
      "difference",
      "difference of expansions",
      "difference of temperatures",
    ]);
    expect(brought.get("standard")).toBeCloseTo(25, 6);
    expect(brought.get("difference")).toBeCloseTo(9.7, 1);
    expect(brought.get("difference of expansions")).toBeCloseTo(2.9, 1);
    expect(brought.get("difference of temperatures")).toBeCloseTo(16.6, 1);
  });
});

/**
 * Five simultaneous readings of voltage, current and phase. Their means go together by chance, as their scatter did; three
 * inputs that are independent say the same by a triangular factor of their covariance.
 */
describe("resistance and reactance of GUM H.2 (JCGM 100:2008, from memory)", () => {
  const voltage_V = [5.007, 4.994, 5.005, 4.99, 4.999];
  const current_A = [19.663e-3, 19.639e-3, 19.64e-3, 19.685e-3, 19.678e-3];
  const phase_rad = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
  const means = [voltage_V, current_A, phase_rad].map(meanOf);
  const factor = triangularFactor([voltage_V, current_A, phase_rad]);
  const inputs = ["first", "second", "third"].map((component) => ({
    component,
    estimate: 0,
    uncertainty: 1,
    unit: "1",
  }));
  const [resistance, reactance, impedance] = propagate(inputs, (z) => {
    const [v = 0, i = 0, phi = 0] = means.map(
      (mean, row) => mean + z.reduce((sum, zk, k) => sum + (factor[row]?.[k] ?? 0) * zk, 0),
    );
    return [(v / i) * Math.cos(phi), (v / i) * Math.sin(phi), v / i];
  });

  test.each([
    { what: "resistance", found: resistance, value: 127.732, uncertainty: 0.071 },
    { what: "reactance", found: reactance, value: 219.847, uncertainty: 0.295 },
    { what: "impedance", found: impedance, value: 254.26, uncertainty: 0.236 },
  ])("the $what is $value ohm with $uncertainty ohm", ({ found, value, uncertainty }) => {
    expect(found?.value).toBeCloseTo(value, 2);
    expect(Math.abs((found?.uncertainty ?? 0) - uncertainty)).toBeLessThan(0.0006);
  });
});

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Lower triangle L with L L' the covariance of the means. */
function triangularFactor(columns: readonly (readonly number[])[]): number[][] {
  const covariance = columns.map((a) =>
    columns.map((b) => {
      const products = a.map((value, i) => (value - meanOf(a)) * ((b[i] ?? 0) - meanOf(b)));
      return products.reduce((sum, product) => sum + product, 0) / (a.length * (a.length - 1));
    }),
  );
  const lower = columns.map(() => columns.map(() => 0));
  for (const [i, row] of lower.entries()) {
    for (let j = 0; j <= i; j++) {
      const other = lower[j] ?? [];
      let rest = covariance[i]?.[j] ?? 0;
      for (let k = 0; k < j; k++) rest -= (row[k] ?? 0) * (other[k] ?? 0);
      row[j] = i === j ? Math.sqrt(rest) : rest / (other[j] ?? 0);
    }
  }
  return lower;
}
