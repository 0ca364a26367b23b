import { describe, expect, test } from "vitest";
import { guardedLimits, judge } from "../../limits/judge.ts";
import type { DecisionRule } from "../../limits/model.ts";
import { normalCdf, normalQuantile } from "../../limits/normal.ts";

const simple: DecisionRule = { kind: "simple" };

describe("the examples of JCGM 106:2012, clause 7 (figures from memory, recomputed to more digits)", () => {
  test("a Zener diode measured at -5.47 V with 0.05 V conforms to at most -5.40 V with probability 0.92", () => {
    const judged = judge({ value: -5.47, standardUncertainty: 0.05, upper: -5.4, rule: simple });
    expect(judged.conformance).toBeCloseTo(0.9192433408, 9);
  });

  test("a container bursting at 509.7 kPa with 8.6 kPa conforms to at least 490 kPa with probability 0.99", () => {
    const judged = judge({ value: 509.7, standardUncertainty: 8.6, lower: 490, rule: simple });
    expect(judged.conformance).toBeCloseTo(0.9890095474, 9);
  });

  test("a leak of 9.2 with 0.5 against 10.0 conforms with probability 0.945, and fails where 0.95 is asked for", () => {
    const asked = { value: 9.2, standardUncertainty: 0.5, upper: 10 };
    const judged = judge({ ...asked, rule: { kind: "guarded", conformance: 0.95 } });
    expect(judged).toMatchObject({ verdict: "fail", why: "IN_UPPER_GUARD_BAND" });
    expect(judged.conformance).toBeCloseTo(0.9452007083, 9);
    expect(judged.acceptance?.upper).toBeCloseTo(9.177573187, 8);
    expect(judge({ ...asked, rule: simple }).verdict).toBe("pass");
  });
});

/**
 * Probabilities over a production with normally distributed true values and readings: of a unit that is bad and
 * accepted (consumer's risk) and of one that is good and rejected (producer's risk). JCGM 106:2012, 9.4 and 9.5.
 * The acceptance limits come from the judge.
 */
function globalRisks(
  process: { mean: number; sd: number },
  u: number,
  [lower, upper]: [number, number],
  rule: DecisionRule,
) {
  const { acceptance } = judge({ value: process.mean, standardUncertainty: u, lower, upper, rule });
  const from = acceptance?.lower ?? Number.NaN;
  const to = acceptance?.upper ?? Number.NaN;
  const accepted = (truth: number) => normalCdf((to - truth) / u) - normalCdf((from - truth) / u);
  const density = (truth: number) =>
    Math.exp(-0.5 * ((truth - process.mean) / process.sd) ** 2) / (process.sd * Math.sqrt(2 * Math.PI));
  const reach = 9 * process.sd;
  const bad = (truth: number) => density(truth) * accepted(truth);
  return {
    consumer: simpson(bad, process.mean - reach, lower) + simpson(bad, upper, process.mean + reach),
    producer: simpson((truth) => density(truth) * (1 - accepted(truth)), lower, upper),
    good: simpson(density, lower, upper),
  };
}

function simpson(f: (x: number) => number, from: number, to: number): number {
  const steps = 4000;
  const h = (to - from) / steps;
  let sum = f(from) + f(to);
  for (let i = 1; i < steps; i++) sum += f(from + i * h) * (i % 2 === 1 ? 4 : 2);
  return (sum * h) / 3;
}

describe("global risks of what the judge accepts", () => {
  test("resistors of 1500 ohm +- 0.2, process 0.12, measurement 0.04 (example of JCGM 106:2012, clause 9)", () => {
    const risks = globalRisks({ mean: 1500, sd: 0.12 }, 0.04, [1499.8, 1500.2], simple);
    expect(risks.good).toBeCloseTo(0.9044192955, 6);
    expect(risks.consumer).toBeCloseTo(0.01894220672, 6);
    expect(risks.producer).toBeCloseTo(0.03720780018, 6);
  });

  // NCSLI RP-19 draft table, by way of a national laboratory's test file; s:u = 4:1, limits +-1.
  test.each([
    [0.8, 2.85583037, 3.63227145],
    [0.9, 1.59995312, 1.7988043],
    [0.95, 0.87100925, 0.92389664],
  ])(
    "in-tolerance probability %d: %d percent of all are falsely accepted, %d percent of the accepted",
    (good, all, ofAccepted) => {
      const sd = 1 / normalQuantile((1 + good) / 2);
      const risks = globalRisks({ mean: 0, sd }, sd / 4, [-1, 1], simple);
      expect(100 * risks.consumer).toBeCloseTo(all, 3);
      expect((100 * risks.consumer) / (risks.good - risks.producer + risks.consumer)).toBeCloseTo(
        ofAccepted,
        3,
      );
    },
  );

  test("guard bands of 0.36 u, as in Deaver's paper, leave risks of 0.008 and 0.066", () => {
    const rule: DecisionRule = { kind: "guarded", conformance: normalCdf(0.36) };
    expect(guardedLimits(0.5, normalCdf(0.36), -2, 2)?.upper).toBeCloseTo(1.82, 6);
    const risks = globalRisks({ mean: 0, sd: 1 }, 0.5, [-2, 2], rule);
    expect(risks.consumer).toBeCloseTo(0.00805161, 6);
    expect(risks.producer).toBeCloseTo(0.06610645, 6);
  });
});

describe("the normal distribution", () => {
  // mpmath, 40 digits: ncdf(x).
  test.each([
    [-37, 5.72557122252458e-300, 1e-12],
    [-30, 4.90671392714819e-198, 1e-12],
    [-10, 7.61985302416053e-24, 1e-13],
    [-5, 2.86651571879194e-7, 1e-13],
    [-3, 0.00134989803163009, 1e-14],
    [-2.9, 0.00186581330038404, 1e-13],
    [-2.8, 0.00255513033042793, 1e-13],
    [-1, 0.158655253931457, 1e-14],
    [0, 0.5, 0],
    [2, 0.977249868051821, 1e-15],
    [8.3, 1, 1e-15],
  ])("Phi(%d) is %d", (x, expected, rel) => {
    expect(Math.abs(normalCdf(x) / expected - 1)).toBeLessThanOrEqual(rel);
  });

  // Tables of the normal distribution (ISO 16269-4 and any other): 1.281552, 1.644854, 1.959964, 2.326348.
  test.each([
    [0.9, 1.2815515655446004],
    [0.95, 1.6448536269514722],
    [0.975, 1.959963984540054],
    [0.99, 2.3263478740408408],
    [1e-20, -9.26234008979841],
  ])("the %d quantile is %d", (probability, expected) => {
    expect(Math.abs(normalQuantile(probability) / expected - 1)).toBeLessThan(1e-13);
  });

  test.each([0, 1])("the %d quantile is an infinity", (probability) => {
    expect(normalQuantile(probability)).toBe(
      probability === 0 ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY,
    );
  });
});
