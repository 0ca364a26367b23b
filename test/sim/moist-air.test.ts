import { describe, expect, it } from "vitest";
import { airDensity_kg_m3, vapourPressure_Pa, virtualTemperature_K } from "../../sim/plant/gas.ts";

function density_kg_m3(t_degC: number, pressure_Pa: number, relativeHumidity: number): number {
  return airDensity_kg_m3(pressure_Pa, virtualTemperature_K(t_degC + 273.15, pressure_Pa, relativeHumidity));
}

describe("the hall's moist air", () => {
  // CIPM-2007 (Picard et al., Metrologia 45 (2008) 149-155), evaluated apart from this program; a real gas is denser
  // than an ideal one by 0.04 % here.
  it.each([
    [20, 101_325, 0.5, 1.199313895],
    [20, 101_325, 0, 1.204557342],
    [23, 100_000, 0.45, 1.171110003],
    [27, 98_500, 0.6, 1.13421213],
    [25, 99_000, 0.55, 1.149435034],
  ])("of %f degC, %f Pa and humidity %f has the density of CIPM-2007 within 0.05 %", (t, p, h, expected) => {
    expect(Math.abs(density_kg_m3(t, p, h) / expected - 1)).toBeLessThan(5e-4);
  });

  // Documentation of the Julia package Psychro, of the ASHRAE kind: 1.2044777 dry and 1.1971436 at 70 % humidity.
  it("loses to moisture what another public formulation says", () => {
    const lost = density_kg_m3(20, 101_325, 0) - density_kg_m3(20, 101_325, 0.7);
    expect(lost).toBeCloseTo(1.2044777 - 1.1971436, 4);
  });

  // CIPM-2007 again: 2339.16 Pa, enhanced by 1.0040. The two formulas are known to be some parts in ten thousand apart.
  it("is saturated at 20 degC by some 2349 Pa of vapour", () => {
    const expected_Pa = 2339.16323 * 1.004025605;
    expect(Math.abs(vapourPressure_Pa(293.15, 101_325, 1) / expected_Pa - 1)).toBeLessThan(1e-3);
  });
});
