import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { orificeMassFlux_kg_s_m2 } from "../../../station/measure/gas/orifice-flow.ts";
import { type PlenumOrifice, plenumOrificeFlow } from "../../../station/measure/gas/plenum-orifice.ts";

const ORIFICE: PlenumOrifice = {
  bore_m: 0.03,
  coefficient: 0.6,
  drop_Pa: 9000,
  upstream_Pa: 101_325,
  density_kg_m3: 1.2,
};
const orifice: fc.Arbitrary<PlenumOrifice> = fc.record({
  bore_m: fc.double({ min: 0.003, max: 0.08, noNaN: true }),
  coefficient: fc.double({ min: 0.5, max: 1, noNaN: true }),
  drop_Pa: fc.double({ min: 1, max: 40_000, noNaN: true }),
  upstream_Pa: fc.double({ min: 60_000, max: 110_000, noNaN: true }),
  density_kg_m3: fc.double({ min: 0.7, max: 1.35, noNaN: true }),
});
const relative = (value: number, expected: number) => Math.abs(value / expected - 1);

describe("flow through an orifice into a plenum", () => {
  it("is, for dry air, that through the sharp-edged hole of the leak formulas", () => {
    fc.assert(
      fc.property(orifice, fc.double({ min: 270, max: 320, noNaN: true }), (given, temperature_K) => {
        const { bore_m, coefficient, drop_Pa, upstream_Pa } = given;
        const downstream_Pa = upstream_Pa - drop_Pa;
        const density_kg_m3 = upstream_Pa / (287.05 * temperature_K);
        const flux = orificeMassFlux_kg_s_m2({ upstream_Pa, downstream_Pa, temperature_K });
        const { massFlow_kg_s } = plenumOrificeFlow({ ...given, density_kg_m3 });
        expect(relative(massFlow_kg_s, coefficient * (Math.PI / 4) * bore_m ** 2 * flux)).toBeLessThan(1e-9);
      }),
    );
  });

  it("grows in volume as the square root of how thin the air is, and in mass as that of how dense", () => {
    fc.assert(
      fc.property(orifice, (given) => {
        const [usual, thin] = [
          plenumOrificeFlow(given),
          plenumOrificeFlow({ ...given, density_kg_m3: given.density_kg_m3 / 1.21 }),
        ];
        expect(relative(thin.volumeFlow_m3_s, 1.1 * usual.volumeFlow_m3_s)).toBeLessThan(1e-12);
        expect(relative(thin.massFlow_kg_s, usual.massFlow_kg_s / 1.1)).toBeLessThan(1e-12);
      }),
    );
  });

  it("is the incompressible jet's times the expansibility, which stays between 0.55 and 1 and falls with the drop", () => {
    fc.assert(
      fc.property(orifice, (given) => {
        const { bore_m, coefficient, drop_Pa, density_kg_m3 } = given;
        const { volumeFlow_m3_s, expansibility } = plenumOrificeFlow(given);
        const jet_m3_s = coefficient * (Math.PI / 4) * bore_m ** 2 * Math.sqrt((2 * drop_Pa) / density_kg_m3);
        expect(relative(volumeFlow_m3_s, expansibility * jet_m3_s)).toBeLessThan(1e-9);
        expect(expansibility).toBeGreaterThan(0.55);
        expect(expansibility).toBeLessThan(1);
        expect(plenumOrificeFlow({ ...given, drop_Pa: drop_Pa + 100 }).expansibility).toBeLessThan(
          expansibility,
        );
      }),
    );
  });

  it("is nothing without a drop, and then no number is missing", () => {
    expect(plenumOrificeFlow({ ...ORIFICE, drop_Pa: 0 })).toEqual({
      massFlow_kg_s: 0,
      volumeFlow_m3_s: 0,
      expansibility: 1,
      choked: false,
    });
  });

  it("chokes at a drop of 47.2 % of the room's pressure, and more suction then draws no more air", () => {
    const at = (drop_Pa: number) => plenumOrificeFlow({ ...ORIFICE, upstream_Pa: 100_000, drop_Pa });
    expect([at(47_100).choked, at(47_200).choked]).toEqual([false, true]);
    expect(at(80_000).massFlow_kg_s).toBe(at(47_200).massFlow_kg_s);
    expect(at(47_100).massFlow_kg_s).toBeLessThan(at(47_200).massFlow_kg_s);
  });

  it.each([
    ["a drop that is the whole pressure", { drop_Pa: 101_325 }],
    ["a drop the wrong way", { drop_Pa: -1 }],
    ["a drop that is no number", { drop_Pa: Number.NaN }],
    ["no bore", { bore_m: 0 }],
    ["no coefficient", { coefficient: 0 }],
    ["no density", { density_kg_m3: 0 }],
    ["a density that is no number", { density_kg_m3: Number.NaN }],
    ["no pressure upstream", { upstream_Pa: 0, drop_Pa: 0 }],
  ])("with %s is refused, never calculated", (_, change) => {
    expect(() => plenumOrificeFlow({ ...ORIFICE, ...change })).toThrow(RangeError);
  });
});
