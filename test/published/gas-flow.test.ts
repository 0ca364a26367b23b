import { describe, expect, it } from "vitest";
import {
  airViscosity_Pa_s,
  capillaryMassFlow,
  GAS_CONSTANT_J_kgK,
  orificeMassFlow,
} from "../../sim/plant/gas.ts";

const T_K = 293.15;
const throughput = (massFlow_kg_s: number) => massFlow_kg_s * GAS_CONSTANT_J_kgK * T_K;
const relative = (value: number, expected: number) => Math.abs(value / expected - 1);
const area = (discharge: number, d_m: number) => (discharge * Math.PI * d_m * d_m) / 4;

describe("flow through small openings", () => {
  // Isentropic orifice (Saint-Venant and Wantzel), k = 1.4, Rs = 287.05 J/(kg K): reference values computed apart
  // from this code.
  it.each([
    { cd: 0.62, d_m: 0.0005, p1: 111_325, p2: 101_325, m: 1.882511749e-5 },
    { cd: 0.62, d_m: 0.001, p1: 101_325, p2: 91_325, m: 7.146054144e-5 },
    { cd: 1, d_m: 0.001, p1: 300_000, p2: 101_325, m: 0.0005561701687 },
    { cd: 0.62, d_m: 0.002, p1: 101_325, p2: 79_325, m: 0.0003927850583 },
    { cd: 0.65, d_m: 0.0008, p1: 101_325, p2: 95_325, m: 3.800806669e-5 },
    { cd: 0.62, d_m: 0.001, p1: 101_325, p2: 40_000, m: 0.0001164648142 },
  ])("an orifice of $d_m m from $p1 to $p2 Pa passes $m kg/s", ({ cd, d_m, p1, p2, m }) => {
    expect(relative(orificeMassFlow(area(cd, d_m), p1, p2, T_K), m)).toBeLessThan(1e-6);
  });

  // Critical flow of air, m = 0.0404 Cd A p1 / sqrt(T1): gas dynamics texts; ISO 9300 for an ideal gas.
  it("chokes at 0.0404 p1 / sqrt(T1) and passes no more however low the pressure behind", () => {
    const choked = orificeMassFlow(1, 200_000, 200_000 * 0.528, T_K);
    expect(choked).toBeCloseTo((0.04041489959 * 200_000) / Math.sqrt(T_K), 4);
    expect(orificeMassFlow(1, 200_000, 1000, T_K)).toBeCloseTo(choked, 6);
  });

  // Compressible Hagen-Poiseuille, Q = pi r^4 (p1^2 - p2^2) / (16 mu L).
  it.each([
    { d_m: 50e-6, length_m: 0.01, p1: 111_325, p2: 101_325, q: 0.00089941826 },
    { d_m: 100e-6, length_m: 0.02, p1: 101_325, p2: 91_325, q: 0.00651861473 },
    { d_m: 25e-6, length_m: 0.005, p1: 121_325, p2: 101_325, q: 0.0002354284924 },
  ])("a capillary of $d_m m from $p1 to $p2 Pa passes $q Pa m3/s", ({ d_m, length_m, p1, p2, q }) => {
    const flow = throughput(capillaryMassFlow(d_m / 2, length_m, p1, p2, T_K));
    expect(relative(flow, q)).toBeLessThan(1e-5);
  });

  // US Standard Atmosphere 1976, equation 51.
  it("takes the viscosity of air from the US Standard Atmosphere", () => {
    expect(relative(airViscosity_Pa_s(288.15), 1.789380278e-5)).toBeLessThan(1e-6);
    expect(relative(airViscosity_Pa_s(293.15), 1.813405882e-5)).toBeLessThan(1e-6);
  });
});
