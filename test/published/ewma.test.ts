import { describe, expect, it } from "vitest";
import { ewma, ewmaVariance } from "../../station/quality/control-chart/ewma.ts";

/** NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: target 50, s 2.0539, lambda 0.3. */
const DATA = [
  52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4,
  53.6, 52.1,
];
/** The averages, to the places of the handbook's table; the last four and the limits are printed there as numbers of their own. */
const AVERAGES = [
  50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
  49.92, 50.73, 51.23, 51.94, 51.99,
];
const [TARGET, S, LAMBDA] = [50, 2.0539, 0.3];

describe("the EWMA of the NIST e-Handbook, 6.3.2.4", () => {
  const averages = ewma(DATA, { lambda: LAMBDA, start: TARGET });

  it("has the averages of its table", () => {
    expect(averages).toHaveLength(AVERAGES.length);
    for (const [i, average] of averages.entries())
      expect(Math.abs(average - (AVERAGES[i] ?? 0))).toBeLessThan(0.0051);
  });

  it("has its control limits, 52.5884 and 47.4115, and no signal", () => {
    const reach = 3 * S * Math.sqrt(ewmaVariance(LAMBDA));
    // The handbook rounds the root to 0.4201.
    expect(TARGET + reach).toBeCloseTo(52.5884, 3);
    expect(Math.abs(TARGET - reach - 47.4115)).toBeLessThan(0.001);
    expect(averages.every((average) => Math.abs(average - TARGET) < reach)).toBe(true);
  });

  it("has narrower limits while there are few values: lambda times the scatter at the first", () => {
    expect(TARGET + 3 * S * Math.sqrt(ewmaVariance(LAMBDA, 1))).toBeCloseTo(51.84851, 5);
  });
});

it.each([0, -0.1, 1.01, Number.NaN])("there is no average with a weight of %s", (lambda) => {
  expect(() => ewma([1], { lambda, start: 0 })).toThrow(RangeError);
});
