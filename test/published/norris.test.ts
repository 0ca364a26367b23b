import { describe, expect, it } from "vitest";
import { fitLine } from "../../station/measure/fit/line-fit.ts";
import { lineThrough } from "../../station/quality/control-chart/stability.ts";

// NIST StRD, linear regression, data set Norris; certified values as published by NIST.
// biome-ignore format: a data table
const NORRIS: readonly (readonly [x: number, y: number])[] = [
  [0.2, 0.1], [337.4, 338.8], [118.2, 118.1], [884.6, 888], [10.1, 9.2], [226.5, 228.1], [666.3, 668.5],
  [996.3, 998.5], [448.6, 449.1], [777, 778.9], [558.2, 559.2], [0.4, 0.3], [0.6, 0.1], [775.5, 778.1],
  [666.9, 668.8], [338, 339.3], [447.5, 448.9], [11.6, 10.8], [556, 557.7], [228.1, 228.3], [995.8, 998],
  [887.6, 888.8], [120.2, 119.6], [0.3, 0.3], [0.3, 0.6], [556.8, 557.6], [339.1, 339.3], [887.2, 888],
  [999, 998.5], [779, 778.9], [11.1, 10.2], [118.3, 117.6], [229.2, 228.9], [669.1, 668.4], [448.9, 449.2],
  [0.5, 0.2],
];

function digits(found: number, certified: number): number {
  return -Math.log10(Math.abs(found - certified) / Math.abs(certified));
}

describe("the line fit against NIST StRD Norris", () => {
  const fit = fitLine(
    NORRIS.map(([x]) => x),
    NORRIS.map(([, y]) => y),
  );

  it.each([
    ["slope", fit.slope, 1.00211681802045],
    ["slope's standard uncertainty", fit.slopeUncertainty, 0.429796848199937e-3],
    ["intercept", fit.intercept, -0.262323073774029],
    ["residual standard deviation", fit.residualDeviation, 0.884796396144373],
  ])("gives the certified %s to ten digits", (_, found, certified) => {
    expect(digits(found, certified)).toBeGreaterThan(10);
  });
});

describe("the drift of reference checks against NIST StRD Norris", () => {
  const drift = lineThrough(
    NORRIS.map(([x]) => x),
    NORRIS.map(([, y]) => y),
  );

  it("gives the certified slope and its standard deviation to ten digits", () => {
    expect(digits(drift.slope, 1.00211681802045)).toBeGreaterThan(10);
    expect(digits(drift.standardError, 0.429796848199937e-3)).toBeGreaterThan(10);
  });

  it("gives an interval by Student's t of 34 degrees of freedom (scipy: 2.032244509)", () => {
    expect((drift.CI95[1] - drift.slope) / drift.standardError).toBeCloseTo(2.032244509, 8);
  });
});
