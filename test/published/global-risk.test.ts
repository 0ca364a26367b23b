import { describe, expect, it } from "vitest";
import { guardedLimits } from "../../limits/judge.ts";
import { normalCdf, normalQuantile } from "../../limits/normal.ts";
import { globalRisks } from "../../station/quality/test-setting/global-risk.ts";

function accepting(from: number, to: number, u: number) {
  return (truth: number) => normalCdf((to - truth) / u) - normalCdf((from - truth) / u);
}

describe("the global risks that a timing study tells", () => {
  // JCGM 106:2012, clause 9 (inputs from memory; figures recomputed by quadrature to more digits).
  it("of resistors of 1500 ohm +- 0.2, process 0.12, measurement 0.04, are the published ones", () => {
    const limits = { lower: 1499.8, upper: 1500.2 };
    const risks = globalRisks(
      [{ mean: 1500, sd: 0.12, weight: 1 }],
      limits,
      accepting(limits.lower, limits.upper, 0.04),
    );
    expect(risks.conforming).toBeCloseTo(0.9044192955, 9);
    expect(risks.falseAccept).toBeCloseTo(0.01894220672, 8);
    expect(risks.falseReject).toBeCloseTo(0.03720780018, 8);
  });

  // NCSLI RP-19 draft table, by way of a national laboratory's test file; s:u = 4:1, limits +-1.
  it.each([
    [0.8, 2.85583037, 3.63227145],
    [0.9, 1.59995312, 1.7988043],
    [0.95, 0.87100925, 0.92389664],
  ])("with %d in tolerance are %d percent of all and %d percent of the accepted", (good, all, ofAccepted) => {
    const sd = 1 / normalQuantile((1 + good) / 2);
    const found = globalRisks(
      [{ mean: 0, sd, weight: 1 }],
      { lower: -1, upper: 1 },
      accepting(-1, 1, sd / 4),
    );
    expect(100 * found.falseAccept).toBeCloseTo(all, 5);
    const accepted = found.conforming - found.falseReject + found.falseAccept;
    expect((100 * found.falseAccept) / accepted).toBeCloseTo(ofAccepted, 5);
  });

  // Deaver's paper on guard bands: 0.008 and 0.066, by way of the same test file.
  it("with guard bands of 0.36 u are Deaver's", () => {
    const upper = guardedLimits(0.5, normalCdf(0.36), -2, 2)?.upper ?? Number.NaN;
    const found = globalRisks(
      [{ mean: 0, sd: 1, weight: 1 }],
      { lower: -2, upper: 2 },
      accepting(-upper, upper, 0.5),
    );
    expect(found.falseAccept).toBeCloseTo(0.00805161, 7);
    expect(found.falseReject).toBeCloseTo(0.06610645, 7);
  });

  // A bivariate normal's quadrant: R_C = P(Y > T, X <= T) = arctan(u / s) / (2 pi) for T at the mean (Sheppard 1899, from memory).
  it.each([0.1, 0.5, 1, 2])("of one limit in the middle of the process are Sheppard's, u = %d s", (u) => {
    const found = globalRisks([{ mean: 3, sd: 1, weight: 2 }], { upper: 3 }, (truth) =>
      normalCdf((3 - truth) / u),
    );
    expect(found.falseAccept).toBeCloseTo(Math.atan(u) / (2 * Math.PI), 6);
    expect(found.falseReject).toBeCloseTo(found.falseAccept, 6);
  });
});
