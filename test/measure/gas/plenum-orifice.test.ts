import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { pipeOrificeFlow } from "../../../station/measure/gas/iso-5167.ts";
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
  // ISO 5167-2:2003 equations 1, 4 and 5 by their own code path, where the pipe is a room.
  it("is that through a plate in a pipe fifty times as wide as the bore", () => {
    fc.assert(
      fc.property(orifice, (given) => {
        const pipe = { pipe_m: 50 * given.bore_m, taps: "corner", viscosity_Pa_s: 1.8e-5 } as const;
        const { massFlow_kg_s, expansibility } = pipeOrificeFlow({ ...given, ...pipe });
        const flow = plenumOrificeFlow(given);
        expect(relative(flow.massFlow_kg_s, massFlow_kg_s)).toBeLessThan(1e-6);
        expect(relative(flow.expansibility, expansibility)).toBeLessThan(1e-6);
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

  it("is the incompressible jet's times the expansibility, which stays between 0.64 and 1 and falls with the drop", () => {
    fc.assert(
      fc.property(orifice, (given) => {
        const { bore_m, coefficient, drop_Pa, density_kg_m3 } = given;
        const { volumeFlow_m3_s, expansibility } = plenumOrificeFlow(given);
        const jet_m3_s = coefficient * (Math.PI / 4) * bore_m ** 2 * Math.sqrt((2 * drop_Pa) / density_kg_m3);
        expect(relative(volumeFlow_m3_s, expansibility * jet_m3_s)).toBeLessThan(1e-9);
        expect(expansibility).toBeGreaterThan(0.64);
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
    });
  });

  it("grows with the drop, through the ratio at which an ideal jet chokes and beyond, up to 0.85 of the room's pressure", () => {
    const drops_Pa = [1, 9000, 25_000, 47_100, 47_300, 60_000, 85_000];
    const flows = drops_Pa.map((drop_Pa) => plenumOrificeFlow({ ...ORIFICE, upstream_Pa: 100_000, drop_Pa }));
    for (const [i, flow] of flows.slice(1).entries()) {
      expect(flow.massFlow_kg_s).toBeGreaterThan(flows[i]?.massFlow_kg_s ?? Number.NaN);
    }
  });

  it("of the example is 60.9 g/s", () => {
    const { massFlow_kg_s, volumeFlow_m3_s, expansibility } = plenumOrificeFlow(ORIFICE);
    expect(massFlow_kg_s).toBeCloseTo(0.060926, 6);
    expect(volumeFlow_m3_s).toBeCloseTo(0.050771, 6);
    expect(expansibility).toBeCloseTo(0.97744, 5);
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
