import { describe, expect, it } from "vitest";
import { criticalPressureRatio, isentropicFlux } from "../../station/measure/gas/isentropic-jet.ts";
import { plenumOrificeFlow } from "../../station/measure/gas/plenum-orifice.ts";

const relative = (value: number, expected: number) => Math.abs(value / expected - 1);
const DRY_J_kgK = 287.05;

describe("the isentropic jet", () => {
  // Gas dynamics texts, ISO 9300 for an ideal gas: 0.5283 and 0.6847 for k = 1.4 (from memory); more digits computed apart.
  it.each([
    ["O11, air", 1.4, 0.5282817878, 0.6847314564],
    ["O36, a monatomic gas", 1.667, 0.4870921694, 0.7262321278],
  ])(
    "%s: with k = %d chokes at a pressure ratio of %d, with a critical flow function of %d",
    (_, k, ratio, flux) => {
      expect(relative(criticalPressureRatio(k), ratio)).toBeLessThan(1e-9);
      expect(relative(isentropicFlux(ratio, k), flux)).toBeLessThan(1e-9);
      expect(isentropicFlux(0.1, k)).toBe(isentropicFlux(0, k));
    },
  );

  // 40 CFR 1065.642(b), subsonic venturi: published Cf 0.274, 58.173 mol/s. It prints r = 0.997, a misprint: its other
  // figures need p2/p1 = 0.9767. A venturi's throat is fed by a pipe, hence the approach factor.
  it("O18: with the speed of approach is the regulation's subsonic venturi", () => {
    const k = 1.399;
    const [inlet_Pa, drop_Pa, throat_m2, beta, dischargeCoefficient] = [99_132, 2312, 0.01824, 0.8, 0.99];
    const ratio = 1 - drop_Pa / inlet_Pa;
    const flowCoefficient = isentropicFlux(ratio, k) / Math.sqrt(1 - beta ** 4 * ratio ** (2 / k));
    expect(relative(flowCoefficient, 0.274403)).toBeLessThan(1e-5);
    expect(flowCoefficient.toFixed(3)).toBe("0.274");
    const flow_mol_s =
      (dischargeCoefficient * flowCoefficient * throat_m2 * inlet_Pa) /
      Math.sqrt(0.0287805 * 8.314472 * 298.15);
    expect(relative(flow_mol_s, 58.173)).toBeLessThan(1e-3);
  });
});

describe("flow from a room through a sharp edge", () => {
  // Isentropic orifice (Saint-Venant and Wantzel), k = 1.4, Rs = 287.05 J/(kg K), 293.15 K, computed apart from this code:
  // mass flow, and flow over that of an incompressible fluid.
  it.each([
    ["O12", 0.62, 0.5, 111_325, 101_325, 1.882511749e-5, 0.9506671582],
    ["O13", 0.62, 1, 101_325, 91_325, 7.146054144e-5, 0.9456602895],
    ["O14, choked", 1, 1, 300_000, 101_325, 0.0005561701687, 0.5949689457],
    ["O15", 0.62, 2, 101_325, 79_325, 0.0003927850583, 0.8760975723],
    ["O33", 0.65, 0.8, 101_325, 95_325, 3.800806669e-5, 0.9677593214],
    ["O34, choked", 0.62, 1, 101_325, 40_000, 0.0001164648142, 0.6223644962],
  ])(
    "%s: coefficient %d, bore %d mm, %d to %d Pa",
    (name, coefficient, bore_mm, upstream_Pa, downstream_Pa, m_kg_s, ratio) => {
      const flow = plenumOrificeFlow({
        bore_m: bore_mm / 1000,
        coefficient,
        drop_Pa: upstream_Pa - downstream_Pa,
        upstream_Pa,
        density_kg_m3: upstream_Pa / (DRY_J_kgK * 293.15),
      });
      expect(relative(flow.massFlow_kg_s, m_kg_s)).toBeLessThan(1e-9);
      expect(relative(flow.expansibility, ratio)).toBeLessThan(1e-9);
      expect(flow.choked).toBe(name.includes("choked"));
    },
  );

  // Critical flow of air, m = 0.0404 A p1 / sqrt(T1): gas dynamics texts, ISO 9300 for an ideal gas (from memory).
  it("O11: can't pass more than 0.0404 A p1 / sqrt(T1), however empty the plenum", () => {
    const [upstream_Pa, T_K, bore_m] = [101_325, 293.15, 0.01];
    const density_kg_m3 = upstream_Pa / (DRY_J_kgK * T_K);
    const flow = plenumOrificeFlow({ bore_m, coefficient: 1, drop_Pa: 101_000, upstream_Pa, density_kg_m3 });
    const area_m2 = (Math.PI / 4) * bore_m ** 2;
    expect(
      relative((flow.massFlow_kg_s * Math.sqrt(T_K)) / (area_m2 * upstream_Pa), 0.04041489959),
    ).toBeLessThan(1e-9);
  });
});
