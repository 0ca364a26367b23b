import { describe, expect, test } from "vitest";
import { standardFactors } from "../../station/measure/airflow/standard-conditions.ts";

const SERIES_MOTOR = { speedPerDensity: -1 / 6, speedPerVoltage: 0.55 };

/** ASTM F558, from memory: barometer in inHg, dry and wet bulb in degF; the density ratio to 0.075 lb/ft3. */
function densityRatio(barometer: number, dry: number, wet: number): number {
  const vapour = -0.001978 * wet ** 2 + 0.1064 * wet + 0.0024575 * barometer * (dry - wet) - 2.741;
  return (17.68 * barometer + vapour) / (dry + 459.7);
}

describe("suction and input power at standard density by ASTM F558 (Cs and Cp, from memory)", () => {
  const suctionFactor = (ratio: number) => 1 + 0.667 * (1 - ratio);
  const powerFactor = (ratio: number) => 1 + 0.5 * (1 - ratio);

  test.each([
    {
      air: "29.92 inHg, 68 and 52 degF",
      ratio: densityRatio(29.92, 68, 52),
      cs: 1.000119645,
      cp: 1.000089689,
    },
    { air: "29.0 inHg, 75 and 62 degF", ratio: densityRatio(29, 75, 62), cs: 1.030937666, cp: 1.023191654 },
    { air: "30.1 inHg, 72 and 60 degF", ratio: densityRatio(30.1, 72, 60), cs: 1.002662168, cp: 1.001995628 },
  ])(
    "in air of $air the fan laws with speed as density to the -1/6 agree to first order",
    ({ ratio, cs, cp }) => {
      expect(suctionFactor(ratio)).toBeCloseTo(cs, 8);
      expect(powerFactor(ratio)).toBeCloseTo(cp, 8);
      const ours = standardFactors({ density: ratio, voltage: 1 }, SERIES_MOTOR);
      // x^-a = 1 + a (1 - x) + a (a + 1) / 2 (1 - x)^2 ...: what is left is of second order, and the 0.667 is rounded.
      const left = (1 - ratio) ** 2;
      expect(Math.abs(ours.suction - cs)).toBeLessThan(0.6 * left + 0.0004 * Math.abs(1 - ratio));
      expect(Math.abs(ours.power - cp)).toBeLessThan(0.4 * left);
    },
  );

  test("their slopes at standard density are 2/3 and 1/2", () => {
    const slope = (of: "suction" | "power") =>
      (standardFactors({ density: 1 - 1e-6, voltage: 1 }, SERIES_MOTOR)[of] - 1) / 1e-6;
    expect(slope("suction")).toBeCloseTo(0.6667, 3);
    expect(slope("power")).toBeCloseTo(0.5, 3);
  });
});

describe("the fan laws (ISO 5801, from memory)", () => {
  test("a fan of fixed speed in thin air moves the same volume with suction and power as the density", () => {
    const factors = standardFactors({ density: 0.8, voltage: 1 }, { speedPerDensity: 0, speedPerVoltage: 0 });
    expect(factors.flow).toBe(1);
    expect(factors.suction).toBeCloseTo(1 / 0.8, 12);
    expect(factors.power).toBeCloseTo(1 / 0.8, 12);
  });

  test("a tenth less speed is a tenth less flow, and suction and power by its square and cube", () => {
    const factors = standardFactors({ density: 1, voltage: 0.9 }, { speedPerDensity: 0, speedPerVoltage: 1 });
    expect(factors.flow).toBeCloseTo(1 / 0.9, 12);
    expect(factors.suction).toBeCloseTo(1 / 0.81, 12);
    expect(factors.power).toBeCloseTo(1 / 0.729, 12);
  });

  test("suction times flow and input power are corrected alike, so that efficiency stays", () => {
    const factors = standardFactors({ density: 0.93, voltage: 1.02 }, SERIES_MOTOR);
    expect((factors.flow * factors.suction) / factors.power).toBeCloseTo(1, 12);
  });

  test.each([
    { density: 0, voltage: 1 },
    { density: 1, voltage: -1 },
    { density: Number.NaN, voltage: 1 },
  ])("density ratio $density and voltage ratio $voltage are refused", (ratios) => {
    expect(() => standardFactors(ratios, SERIES_MOTOR)).toThrow(RangeError);
  });
});
