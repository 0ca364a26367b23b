import { describe, expect, it } from "vitest";
import {
  type E2930Facts,
  e2930Unchecked,
  e2930Warnings,
  pressureLoss_Pa_s,
} from "../../../station/measure/leak/e2930.ts";

const mLmin = 1e-6 / 60;

/** The demo plant's large body, well within every rule. */
const tub: E2930Facts = {
  limit_m3_s: 60 * mLmin,
  unit: "mL/min",
  testPressure_Pa: -8_000,
  volume_m3: 0.012,
  measureLongest_s: 10,
  resolution_m3_s: 1 * mLmin,
  expandedUncertainty_m3_s: 3 * mLmin,
  slowDrift_m3_s: 1 * mLmin,
};

const rulesBroken = (facts: Partial<E2930Facts>) =>
  e2930Warnings({ ...tub, ...facts }).map(({ rule }) => rule);

describe("the rules of ASTM E2930", () => {
  it("say nothing of a limit that keeps them", () => {
    expect(e2930Warnings(tub)).toEqual([]);
  });

  // Factors from the standard's abstract: ten times, four times, a tenth.
  it.each([
    ["resolution", { resolution_m3_s: 6.01 * mLmin }, { resolution_m3_s: 5.99 * mLmin }],
    ["accuracy", { expandedUncertainty_m3_s: 15.1 * mLmin }, { expandedUncertainty_m3_s: 14.9 * mLmin }],
    ["deformable vessel", { slowDrift_m3_s: 6.01 * mLmin }, { slowDrift_m3_s: 5.99 * mLmin }],
    ["deformable vessel", { slowDrift_m3_s: -6.01 * mLmin }, { slowDrift_m3_s: -5.99 * mLmin }],
    // 60 mL/min make 101325/12 L x 1e-6 m3/s = 8.444 Pa/s, 800 Pa in 94.75 s.
    ["pressure change", { measureLongest_s: 94.8 }, { measureLongest_s: 94.7 }],
    [
      "pressure change",
      { testPressure_Pa: 800, measureLongest_s: 9.48 },
      { testPressure_Pa: 800, measureLongest_s: 9.47 },
    ],
    [
      "accuracy",
      { earlyExpandedUncertainty_m3_s: 15.1 * mLmin },
      { earlyExpandedUncertainty_m3_s: 14.9 * mLmin },
    ],
    // 84.4 Pa of leak in 10 s: heat and slow part may add 715.6 Pa.
    ["pressure change", { settlingChange_Pa: -716 }, { settlingChange_Pa: -715 }],
    ["settling", { heatDrift_m3_s: -6.01 * mLmin }, { heatDrift_m3_s: -5.99 * mLmin }],
  ] as const)("warn of the %s just beyond it, and not just within", (rule, beyond, within) => {
    expect(rulesBroken(beyond)).toEqual([rule]);
    expect(rulesBroken(within)).toEqual([]);
  });

  it("are passed over where their facts are not known, and named", () => {
    const alone = { ...tub, resolution_m3_s: null, expandedUncertainty_m3_s: null, slowDrift_m3_s: null };
    expect(e2930Warnings(alone)).toEqual([]);
    expect(e2930Unchecked(alone)).toEqual(["resolution", "accuracy", "deformable vessel"]);
    expect(e2930Unchecked(tub)).toEqual([]);
  });

  it("can be broken all at once", () => {
    expect(rulesBroken({ limit_m3_s: 1 * mLmin, measureLongest_s: 6_000 })).toEqual([
      "resolution",
      "accuracy",
      "pressure change",
      "deformable vessel",
    ]);
  });

  it("have no resolution fine enough for a limit of nothing", () => {
    expect(rulesBroken({ limit_m3_s: 0 })).toEqual(["resolution", "accuracy", "deformable vessel"]);
  });
});

describe("a warning", () => {
  const sentence = (facts: Partial<E2930Facts>) => e2930Warnings({ ...tub, ...facts })[0]?.sentence;

  it("gives the pressure change, what it should be, and a time that keeps the rule", () => {
    const words = sentence({ measureLongest_s: 120 }) ?? "";
    expect(words).toContain("by 1010 Pa in the longest measuring time");
    expect(words).toContain("a tenth of the test pressure, 800 Pa");
    const [, below] = /measure_longest below ([\d.]+) s\.$/.exec(words) ?? [];
    expect(rulesBroken({ measureLongest_s: Number(below) })).toEqual([]);
  });

  it("says of a pressure change that is heat that a fit keeps the value right, and a fixed timer must settle", () => {
    const heat = { settlingChange_Pa: 900 };
    expect(sentence({ ...heat, isFitted: true })).toMatch(
      /^The pressure changes by 984 Pa .* most of it heat \(a leak at the limit makes 84\.4 Pa of it\).* the fit carries .* value stays right/,
    );
    expect(sentence({ ...heat, isFitted: false })).toMatch(/: settle longer\.$/);
  });

  it("says of an early verdict that it is certain though the value is not, and how to get the value", () => {
    const words = sentence({ earlyExpandedUncertainty_m3_s: 30 * mLmin }) ?? "";
    expect(words).toMatch(/early verdict may be known to \+- 30 mL\/min only .* the verdict is certain/);
    expect(words).toMatch(/early_verdict: off or a longer measure_shortest\.$/);
    // Once is enough where the end of the measuring time is no better.
    expect(
      rulesBroken({ earlyExpandedUncertainty_m3_s: 30 * mLmin, expandedUncertainty_m3_s: 20 * mLmin }),
    ).toEqual(["accuracy"]);
  });

  it("is in the unit of the limit", () => {
    expect(sentence({ resolution_m3_s: 12 * mLmin })).toContain("to 12 mL/min");
    // 12 x 273.15/293.15
    expect(sentence({ resolution_m3_s: 12 * mLmin, unit: "mL/min @ 0 degC" })).toContain(
      "to 11.2 mL/min @ 0 degC",
    );
  });

  it("says what to do of a resolution by where it comes from", () => {
    const doubtful = { resolution_m3_s: 12 * mLmin };
    expect(sentence(doubtful)).toMatch(/^By its learned noise .* a gauge with less noise\.$/);
    expect(sentence({ ...doubtful, resolutionFrom: "stated uncertainty" })).toMatch(
      /^By its stated uncertainty .* with drumtight study settle\.$/,
    );
  });
});

it("a leak's pressure loss is that of the ideal gas, warmer gas losing more", () => {
  // 0.09 Pa.m3/s (20 degC) from 12 L, 7.5 Pa/s: the ideal gas law with 150 Pa in 20 s.
  expect(pressureLoss_Pa_s(0.09 / 101_325, 0.012, 293.15)).toBeCloseTo(7.5, 10);
  expect(pressureLoss_Pa_s(0.09 / 101_325, 0.012, 2 * 293.15)).toBeCloseTo(15, 10);
});
