import { describe, expect, it } from "vitest";
import { randomStream } from "../../sim/random.ts";
import { cusumRunLengths, ewmaRunLengths } from "../../station/quality/control-chart/run-length.ts";
import {
  ALLOWANCE,
  DECISION,
  DECISION_OF_MANY,
  DriftSum,
} from "../../station/quality/early-warning/drift-sum.ts";

const EWMAS = [
  { lambda: 0.05, width: 3.392 },
  { lambda: 0.1, width: 3.526 },
  { lambda: 0.2, width: 3.623 },
];

describe("average run lengths", () => {
  // D. C. Montgomery, Introduction to Statistical Quality Control, table of ARLs of the tabular CUSUM with k = 1/2 and h = 4 or 5
  // (from memory); h = 4 stands in the NIST/SEMATECH e-Handbook, 6.3.2.3.1, too.
  it.each([
    { h: 4, shift: 0, published: 168 },
    { h: 4, shift: 0.25, published: 74.2 },
    { h: 4, shift: 0.5, published: 26.6 },
    { h: 4, shift: 0.75, published: 13.3 },
    { h: 4, shift: 1, published: 8.38 },
    { h: 4, shift: 1.5, published: 4.75 },
    { h: 4, shift: 2, published: 3.34 },
    { h: 4, shift: 3, published: 2.19 },
    { h: 5, shift: 0, published: 465 },
    { h: 5, shift: 0.25, published: 139 },
    { h: 5, shift: 0.5, published: 38 },
    { h: 5, shift: 0.75, published: 17 },
    { h: 5, shift: 1, published: 10.4 },
    { h: 5, shift: 1.5, published: 5.75 },
    { h: 5, shift: 2, published: 4.01 },
    { h: 5, shift: 3, published: 2.57 },
  ])("of a CUSUM with h $h and a shift of $shift are as published: $published", ({ h, shift, published }) => {
    const { zeroState } = cusumRunLengths({ k: 0.5, h, shift });
    expect(Math.abs(zeroState - published) / published).toBeLessThan(0.006);
  });

  // Lucas and Saccucci 1990; Montgomery's table of EWMA control schemes (from memory).
  it.each([
    { lambda: 0.1, width: 2.814, shift: 0, published: 500 },
    { lambda: 0.1, width: 2.814, shift: 1, published: 10.3 },
    { lambda: 0.2, width: 2.962, shift: 0, published: 500 },
    { lambda: 0.2, width: 2.962, shift: 1, published: 10.5 },
    { lambda: 0.25, width: 2.998, shift: 0, published: 500 },
    { lambda: 0.25, width: 2.998, shift: 1, published: 11.1 },
    { lambda: 0.4, width: 3.054, shift: 0, published: 500 },
    { lambda: 0.4, width: 3.054, shift: 1, published: 14.3 },
  ])("of an EWMA with lambda $lambda and a shift of $shift are as published: $published", (chart) => {
    const { zeroState } = ewmaRunLengths(chart);
    expect(Math.abs(zeroState - chart.published) / chart.published).toBeLessThan(0.01);
  });

  it.each([
    { shift: 0.75, runs: 1500 },
    { shift: 1, runs: 3000 },
    { shift: 1.5, runs: 3000 },
  ])(
    "of the early warning's own sums are those of the Markov chain, counted on drawn values shifted by $shift",
    ({ shift, runs }) => {
      const random = randomStream(3, `run lengths ${shift}`);
      let values = 0;
      for (let run = 0; run < runs; run++) {
        const sum = new DriftSum();
        let signal = null;
        for (let at = 0; signal === null; at++, values++)
          signal = sum.add(random.normal() + shift, at, DECISION);
      }
      const { zeroState } = cusumRunLengths({ k: ALLOWANCE, h: DECISION, shift });
      // Run lengths scatter by less than their mean: four standard errors of the mean.
      expect(Math.abs(values / runs - zeroState)).toBeLessThan((4 * zeroState) / Math.sqrt(runs));
    },
  );

  it("let one chart of known normal values warn within 15 units of a shift of one sigma, and not once in 500 without one", () => {
    const { steadyState } = cusumRunLengths({ k: ALLOWANCE, h: DECISION, shift: 1 });
    expect(steadyState).toBeLessThanOrEqual(14.1);
    expect(cusumRunLengths({ k: ALLOWANCE, h: DECISION_OF_MANY, shift: 1 }).steadyState).toBeLessThanOrEqual(
      14.9,
    );
    expect(cusumRunLengths({ k: ALLOWANCE, h: DECISION, shift: 0 }).zeroState).toBeGreaterThan(4400);
  });

  it("of an EWMA with as few false alarms are no shorter at one sigma", () => {
    const cusum = cusumRunLengths({ k: ALLOWANCE, h: DECISION, shift: 1 });
    const falseAlarms = cusumRunLengths({ k: ALLOWANCE, h: DECISION, shift: 0 }).zeroState;
    // Widths at which the EWMA gives about as many.
    for (const chart of EWMAS) {
      expect(ewmaRunLengths({ ...chart, shift: 0 }).zeroState / falseAlarms).toBeGreaterThan(0.9);
      expect(ewmaRunLengths({ ...chart, shift: 0 }).zeroState / falseAlarms).toBeLessThan(1.1);
      expect(ewmaRunLengths({ ...chart, shift: 1 }).steadyState).toBeGreaterThan(cusum.steadyState - 0.5);
    }
  });

  it("are refused for charts that are none", () => {
    expect(() => cusumRunLengths({ k: 0.5, h: 0, shift: 1 })).toThrow(RangeError);
    expect(() => ewmaRunLengths({ lambda: 0, width: 3, shift: 1 })).toThrow(RangeError);
  });
});
