import { describe, expect, it } from "vitest";
import { airDensityBudget } from "../../station/measure/air/density-uncertainty.ts";
import { moistAir } from "../../station/measure/air/moist-air.ts";
import { AIR_GAS_CONSTANT_J_KG_K, airViscosity_Pa_s } from "../../station/measure/gas/dry-air.ts";

const relative = (value: number, expected: number) => Math.abs(value / expected - 1);
const air = (t_degC: number, pressure_Pa: number, relativeHumidity: number, co2?: number) =>
  moistAir({
    temperature_K: t_degC + 273.15,
    pressure_Pa,
    relativeHumidity,
    ...(co2 === undefined ? {} : { co2 }),
  });

describe("moist air by CIPM-2007", () => {
  // The equation of Picard, Davis, Glaeser, Fujii, Metrologia 45 (2008) 149-155, written down and computed apart from this
  // code.
  it.each([
    ["A01", 20, 101_325, 0.5, 2339.16323, 1.004025605, 0.01158934013, 0.9996147675, 1.199313895],
    ["A02, dry", 20, 101_325, 0, 2339.16323, 1.004025605, 0, 0.9996431394, 1.204557342],
    ["A03", 23, 100_000, 0.45, 2810.904558, 1.00405624, 0.01270037818, 0.9996457733, 1.171110003],
    ["A04", 27, 98_500, 0.6, 3567.937826, 1.00412114, 0.02182319877, 0.9996581597, 1.13421213],
    ["A21", 25, 99_000, 0.55, 3169.756976, 1.0040786, 0.01768158415, 0.999652289, 1.149435034],
  ])("%s: %d degC, %d Pa, humidity %d", (_, t_degC, p_Pa, humidity, psv_Pa, f, xv, z, density_kg_m3) => {
    const found = air(t_degC, p_Pa, humidity);
    expect(relative(found.saturationPressure_Pa, psv_Pa)).toBeLessThan(1e-9);
    expect(relative(found.enhancement, f)).toBeLessThan(1e-9);
    expect(found.vapourFraction).toBeCloseTo(xv, 11);
    expect(relative(found.compressibility, z)).toBeLessThan(1e-9);
    expect(relative(found.density_kg_m3, density_kg_m3)).toBeLessThan(1e-9);
  });

  it("A05: 500 ppm of carbon dioxide make A01 heavier", () => {
    expect(relative(air(20, 101_325, 0.5, 0.0005).density_kg_m3, 1.199363267)).toBeLessThan(1e-9);
  });

  // Another formulation, the ideal moist gas of ASHRAE's handbook as a public psychrometric package prints it.
  it("A06: agrees to two parts in ten thousand with an ideal gas formulation, dry and at 70 % humidity", () => {
    expect(relative(air(20, 101_325, 0).density_kg_m3, 1.2044777)).toBeLessThan(2e-4);
    expect(relative(air(20, 101_325, 0.7).density_kg_m3, 1.1971436)).toBeLessThan(2e-4);
  });

  // Saturation pressure of water in steam tables (from memory): 2339.2 Pa at 20 degC, 3169.9 Pa at 25 degC.
  it("has the steam tables' saturation pressure", () => {
    expect(relative(air(20, 101_325, 0.5).saturationPressure_Pa, 2339.2)).toBeLessThan(1e-4);
    expect(relative(air(25, 101_325, 0.5).saturationPressure_Pa, 3169.9)).toBeLessThan(1e-4);
  });

  // Relative sensitivities as the paper's uncertainty table rounds them (from memory): -4e-3 per K, 1e-5 per Pa, -9e-3 per
  // unit of relative humidity, 0.4 per mole fraction of carbon dioxide; and the equation's own 22e-6.
  it("hangs on temperature, pressure, humidity and carbon dioxide as the paper's table says", () => {
    const room = { temperature_K: 293.15, pressure_Pa: 101_325, relativeHumidity: 0.5 };
    const one = { temperature_K: 1, pressure_Pa: 1, relativeHumidity: 1, co2: 1 };
    const budget = airDensityBudget(room, one);
    const rounded = budget.map(({ sensitivity }) => Number((sensitivity / 1.199313895).toPrecision(1)));
    expect(rounded.slice(0, 4)).toEqual([-4e-3, 1e-5, -9e-3, 0.4]);
    expect(relative((budget[4]?.contribution ?? 0) / 1.199313895, 22e-6)).toBeLessThan(1e-6);
  });

  // IEC 62885-2 and ISO 5801 refer to 1.20 kg/m3 (from memory), which they say is air of 20 degC, 101.3 kPa and about half
  // humid.
  it("is the suction standards' 1.20 kg/m3 at 20 degC, 101.325 kPa and 50 %, to a part in a thousand", () => {
    expect(relative(air(20, 101_325, 0.5).density_kg_m3, 1.2)).toBeLessThan(1e-3);
  });
});

describe("dry air of the US Standard Atmosphere 1976 (ISO 2533 has the same values)", () => {
  // Temperature, pressure and density over geometric altitude: Mechanical Engineers' Handbook, 3rd ed., vol. 4, table 6
  // (temperature and density); pressure and the last row computed with python3-fluids.
  const ROWS = [
    ["A07, sea level", 288.15, 101_325, 1.225],
    ["A08, 1000 m", 281.65, 89_876, 1.1117],
    ["A09, 2000 m", 275.15, 79_501, 1.0066],
    ["A22, 500 m", 284.900256, 95_461.2895, 1.16727251],
  ] as const;

  it.each(ROWS)("%s: the ideal gas of our gas constant has its density", (_, T_K, p_Pa, density_kg_m3) => {
    expect(relative(p_Pa / (AIR_GAS_CONSTANT_J_KG_K * T_K), density_kg_m3)).toBeLessThan(1e-4);
  });

  // The atmosphere of 1976 has 314 ppm of carbon dioxide and is an ideal gas, CIPM's air is not: 0.04 % of difference.
  it.each(ROWS)("%s: CIPM-2007's dry air has its density to 0.06 %%", (_, T_K, p_Pa, density_kg_m3) => {
    const dry = moistAir({ temperature_K: T_K, pressure_Pa: p_Pa, relativeHumidity: 0, co2: 314e-6 });
    expect(relative(dry.density_kg_m3, density_kg_m3)).toBeLessThan(6e-4);
    expect(dry.doubts).toHaveLength(T_K >= 288.15 ? 0 : 1);
  });

  // Equation 51 (Sutherland).
  it.each([
    ["A10", 288.15, 1.789380278e-5],
    ["A11", 293.15, 1.813405882e-5],
    ["A22", 284.900256, 1.7736572e-5],
  ])("%s: the viscosity at %d K", (_, T_K, viscosity_Pa_s) => {
    expect(relative(airViscosity_Pa_s(T_K), viscosity_Pa_s)).toBeLessThan(1e-7);
  });

  it("A12: dry ideal air at 20 degC and 101.325 kPa, by another gas constant", () => {
    expect(relative(101_325 / (AIR_GAS_CONSTANT_J_KG_K * 293.15), 1.204084759)).toBeLessThan(5e-5);
  });
});
