import { describe, expect, it } from "vitest";
import { criticalPressureRatio, isentropicFlux } from "../../station/measure/gas/isentropic-jet.ts";

const relative = (value: number, expected: number) => Math.abs(value / expected - 1);

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
