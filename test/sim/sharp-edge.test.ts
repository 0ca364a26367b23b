import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { airDensity_kg_m3, sharpEdgeMassFlow } from "../../sim/plant/gas.ts";
import { PLENUM_EXPANSION_UNCERTAINTY, plenumOrificeFlow } from "../../station/measure/gas/plenum-orifice.ts";

const [ROOM_Pa, ROOM_K, BORE_m, COEFFICIENT] = [101_325, 293.15, 0.0165, 0.62];
const effective_m2 = (COEFFICIENT * Math.PI * BORE_m ** 2) / 4;

const plant = (drop_Pa: number) => sharpEdgeMassFlow(effective_m2, ROOM_Pa, ROOM_Pa - drop_Pa, ROOM_K);

function station(drop_Pa: number): number {
  const density_kg_m3 = airDensity_kg_m3(ROOM_Pa, ROOM_K);
  const orifice = { bore_m: BORE_m, coefficient: COEFFICIENT, upstream_Pa: ROOM_Pa, density_kg_m3, drop_Pa };
  return plenumOrificeFlow(orifice).massFlow_kg_s;
}

describe("the plant's sharp edge (Buckingham's expansion) and the station's (ISO 5167-2's), both from memory", () => {
  it("agree at small drops, and differ by 0.56 % at 15 kPa, the plant passing less", () => {
    expect(plant(10) / station(10)).toBeCloseTo(1, 5);
    expect(station(15_000) / plant(15_000) - 1).toBeCloseTo(0.0056, 4);
  });

  it("differ by less than two of the standard uncertainties that the station owns up to, at all drops of a cleaner", () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 30_000, noNaN: true }), (drop_Pa) => {
        const difference = Math.abs(station(drop_Pa) / plant(drop_Pa) - 1);
        expect(difference).toBeLessThan((2 * PLENUM_EXPANSION_UNCERTAINTY * drop_Pa) / ROOM_Pa);
      }),
    );
  });

  it("passes 62.8 g/s in the example, nothing without a drop, and goes as its density's root", () => {
    expect(sharpEdgeMassFlow((0.62 * Math.PI * 0.03 ** 2) / 4, 101_325, 92_325, 293.15)).toBeCloseTo(
      0.062842,
      6,
    );
    expect([plant(0), plant(-5)]).toEqual([0, 0]);
    const warm = sharpEdgeMassFlow(effective_m2, ROOM_Pa, ROOM_Pa - 9000, 1.21 * ROOM_K);
    expect(plant(9000) / warm).toBeCloseTo(1.1, 9);
  });
});
