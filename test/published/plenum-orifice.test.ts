import { describe, expect, it } from "vitest";
import { criticalPressureRatio, isentropicFlux } from "../../station/measure/gas/isentropic-jet.ts";
import { plenumOrificeFlow } from "../../station/measure/gas/plenum-orifice.ts";

const [UPSTREAM_Pa, DENSITY_kg_m3, BORE_m] = [101_325, 1.2, 0.02];

/** The coefficient of an isentropic jet that passes as much as our orifice of coefficient 0.6. */
function asIsentropic(ratio: number): number {
  const drop_Pa = (1 - ratio) * UPSTREAM_Pa;
  const orifice = {
    bore_m: BORE_m,
    coefficient: 0.6,
    upstream_Pa: UPSTREAM_Pa,
    density_kg_m3: DENSITY_kg_m3,
  };
  const area_m2 = (Math.PI / 4) * BORE_m ** 2;
  const jet_kg_s = area_m2 * Math.sqrt(UPSTREAM_Pa * DENSITY_kg_m3) * isentropicFlux(ratio);
  return plenumOrificeFlow({ ...orifice, drop_Pa }).massFlow_kg_s / jet_kg_s;
}

describe("the jet from a sharp edge against an isentropic one", () => {
  // Classical measurements on sharp-edged orifices, as Perry's Chemical Engineers' Handbook tells them: the isentropic
  // jet's coefficient rises from some 0.6 at small drops to about 0.75 at the critical ratio (from memory).
  it("fills 0.60 of the bore at small drops and about 0.75 of it at the critical ratio", () => {
    expect(asIsentropic(0.999)).toBeCloseTo(0.6, 3);
    expect(Math.abs(asIsentropic(criticalPressureRatio()) / 0.75 - 1)).toBeLessThan(0.02);
  });

  it("still passes more below the critical ratio, where an isentropic jet is choked, and some 0.8 of it far below (from memory: 0.84 at none)", () => {
    const ratios = [0.528, 0.5, 0.45, 0.4, 0.3, 0.2];
    const coefficients = ratios.map(asIsentropic);
    expect(coefficients).toEqual([...coefficients].sort((a, b) => a - b));
    expect(Math.abs((coefficients.at(-1) ?? 0) / 0.84 - 1)).toBeLessThan(0.05);
  });
});
