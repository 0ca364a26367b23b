import { describe, expect, it } from "vitest";
import { toUnit } from "../../limits/quantity.ts";
import { capillaryLeaking, capillaryLeakRate_m3_s } from "../../station/measure/gas/capillary-flow.ts";
import { airViscosity_Pa_s } from "../../station/measure/gas/dry-air.ts";
import {
  CRITICAL_PRESSURE_RATIO,
  isChoked,
  orificeMassFlux_kg_s_m2,
  sharpEdgedHole,
} from "../../station/measure/gas/orifice-flow.ts";

const T20_K = 293.15;
const ATM_PA = 101_325;
const close = (value: number, expected: number, rel: number) =>
  expect(Math.abs(value / expected - 1)).toBeLessThanOrEqual(rel);
const throughputAt20 = (rate_m3_s: number) => toUnit(rate_m3_s, "leakRate", "Pa.m3/s @ 20 degC");

describe("critical flow of air", () => {
  // Gas dynamics texts and ISO 9300 for an ideal gas print 0.5283, 0.6847 and 0.0404 (from memory); more digits
  // computed apart from this code.
  it("O11: begins at p2/p1 = 0.5283 and is 0.0404 p1 / sqrt(T1) per area", () => {
    close(CRITICAL_PRESSURE_RATIO, 0.5282817878, 1e-9);
    const choked = { upstream_Pa: 1e5, downstream_Pa: 1e4, temperature_K: T20_K };
    expect(isChoked(choked)).toBe(true);
    close((orificeMassFlux_kg_s_m2(choked) * Math.sqrt(T20_K)) / 1e5, 0.04041489959, 1e-9);
    close((orificeMassFlux_kg_s_m2(choked) * Math.sqrt(287.05 * T20_K)) / 1e5, 0.6847314564, 1e-9);
  });
});

describe("the sharp-edged hole of a leak", () => {
  // Isentropic orifice (Saint-Venant and Wantzel), k = 1.4, Rs = 287.05 J/(kg K), 293.15 K, computed apart from this
  // code: mass flow and, in Pa m3/s, gas at 20 degC.
  it.each([
    ["O12", 0.62, 0.5, 111_325, 101_325, 1.882511749e-5, 1.584109305],
    ["O13", 0.62, 1, 101_325, 91_325, 7.146054144e-5, 6.013312199],
    ["O14, choked", 1, 1, 300_000, 101_325, 0.0005561701687, 46.80100085],
    ["O15", 0.62, 2, 101_325, 79_325, 0.0003927850583, 33.05235498],
    ["O33", 0.65, 0.8, 101_325, 95_325, 3.800806669e-5, 3.198329687],
    ["O34, choked", 0.62, 1, 101_325, 40_000, 0.0001164648142, 9.800363583],
  ])("%s: Cd %d, %d mm, %d to %d Pa", (name, cd, d_mm, upstream_Pa, downstream_Pa, m_kg_s, q_Pa_m3_s) => {
    const drive = { upstream_Pa, downstream_Pa, temperature_K: T20_K };
    const area_m2 = (Math.PI / 4) * (d_mm / 1000) ** 2;
    close(cd * area_m2 * orificeMassFlux_kg_s_m2(drive), m_kg_s, 1e-9);
    close(sharpEdgedHole(q_Pa_m3_s / ATM_PA, drive, cd).diameter_m * 1000, d_mm, 1e-9);
    expect(isChoked(drive)).toBe(name.endsWith("choked"));
  });
});

describe("the capillary of a leak", () => {
  // Hagen-Poiseuille for an ideal gas with 1.8134e-5 Pa s, computed apart from this code.
  it.each([
    ["O16", 50, 10, 111_325, 101_325, 0.00089941826, 0.5325940844, 15.0093109],
    ["O17", 100, 20, 101_325, 91_325, 0.00651861473, 3.860023526, 54.39066531],
    ["O35", 25, 5, 121_325, 101_325, 0.0002354284924, 0.139409914, 7.857566592],
  ])("%s: %d um, %d mm, %d to %d Pa", (_, d_um, length_mm, upstream_Pa, downstream_Pa, q, sccm, reynolds) => {
    const drive = { upstream_Pa, downstream_Pa, temperature_K: T20_K };
    const rate_m3_s = capillaryLeakRate_m3_s(d_um * 1e-6, length_mm / 1000, drive);
    close(throughputAt20(rate_m3_s), q, 1e-5);
    close(toUnit(rate_m3_s, "leakRate", "sccm @ 20 degC"), sccm, 1e-5);
    const capillary = capillaryLeaking(q / ATM_PA, length_mm / 1000, drive);
    close(capillary.diameter_m * 1e6, d_um, 1e-5);
    close(capillary.reynolds, reynolds, 1e-5);
  });

  // US Standard Atmosphere 1976, equation 51 (from memory), computed with python3-fluids.
  it("A10 and A11: takes the viscosity of air from the US Standard Atmosphere", () => {
    close(airViscosity_Pa_s(288.15), 1.789380278e-5, 1e-9);
    close(airViscosity_Pa_s(293.15), 1.813405882e-5, 1e-9);
  });
});
