import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { airDensityBudget } from "../../../station/measure/air/density-uncertainty.ts";
import { moistAir, type RoomAir } from "../../../station/measure/air/moist-air.ts";
import { combinedUncertainty } from "../../../station/measure/fit/uncertainty.ts";

const ROOM: RoomAir = { temperature_K: 293.15, pressure_Pa: 101_325, relativeHumidity: 0.5 };
const room: fc.Arbitrary<RoomAir> = fc.record({
  temperature_K: fc.double({ min: 288.15, max: 299, noNaN: true }),
  pressure_Pa: fc.double({ min: 60_000, max: 108_000, noNaN: true }),
  relativeHumidity: fc.double({ min: 0, max: 0.9, noNaN: true }),
});
const density = (air: RoomAir) => moistAir(air).density_kg_m3;

describe("moist air", () => {
  it("is lighter when warmer or more humid, heavier when pressed or with more carbon dioxide, anywhere in range", () => {
    fc.assert(
      fc.property(room, (air) => {
        const here = density(air);
        expect(density({ ...air, temperature_K: air.temperature_K + 1 })).toBeLessThan(here);
        expect(density({ ...air, relativeHumidity: air.relativeHumidity + 0.1 })).toBeLessThan(here);
        expect(density({ ...air, pressure_Pa: air.pressure_Pa + 1000 })).toBeGreaterThan(here);
        expect(density({ ...air, co2: 0.001 })).toBeGreaterThan(here);
      }),
    );
  });

  it("is trusted from 15 to 27 degC and from 600 to 1100 hPa, the ends included, however they were converted", () => {
    for (const t_degC of [15, 27]) {
      for (const p_hPa of [600, 1100]) {
        const air = { ...ROOM, temperature_K: t_degC + 273.15, pressure_Pa: p_hPa * 100 };
        expect(moistAir(air).doubts).toEqual([]);
      }
    }
  });

  it("outside says what is doubted and what there was, one sentence each", () => {
    expect(moistAir({ ...ROOM, temperature_K: 288.05 }).doubts).toEqual([
      "CIPM-2007 holds from 15 to 27 degC; the air has 14.9 degC.",
    ]);
    expect(moistAir({ ...ROOM, temperature_K: 300.25, pressure_Pa: 59_900 }).doubts).toEqual([
      "CIPM-2007 holds from 15 to 27 degC; the air has 27.1 degC.",
      "CIPM-2007 holds from 60 to 110 kPa; the air has 59.90 kPa.",
    ]);
    expect(moistAir({ ...ROOM, pressure_Pa: 110_100 }).doubts).toHaveLength(1);
  });

  it.each([
    ["no temperature", { temperature_K: 0 }],
    ["a temperature that is no number", { temperature_K: Number.NaN }],
    ["no pressure", { pressure_Pa: 0 }],
    ["humidity in percent", { relativeHumidity: 45 }],
    ["more than all the vapour air can hold", { relativeHumidity: 1.01 }],
    ["humidity below nothing", { relativeHumidity: -0.01 }],
    ["humidity that is no number", { relativeHumidity: Number.NaN }],
    ["carbon dioxide in ppm", { co2: 400 }],
    ["mostly steam", { temperature_K: 368.15, relativeHumidity: 1 }],
  ])("with %s is refused, never calculated", (_, change) => {
    expect(() => moistAir({ ...ROOM, ...change })).toThrow(RangeError);
  });
});

describe("the uncertainty of the air's density", () => {
  const NONE = { temperature_K: 0, pressure_Pa: 0, relativeHumidity: 0, co2: 0 };

  it("is the equation's own 22e-6 when the readings are exact", () => {
    const budget = airDensityBudget(ROOM, NONE);
    expect(combinedUncertainty(budget) / density(ROOM)).toBeCloseTo(22e-6, 12);
  });

  it("is what the density really does when readings scatter so much", () => {
    fc.assert(
      fc.property(room, (air) => {
        const uncertainty = { temperature_K: 0.1, pressure_Pa: 30, relativeHumidity: 0.02, co2: 0.0001 };
        const changes = [
          density({ ...air, temperature_K: air.temperature_K + 0.1 }),
          density({ ...air, pressure_Pa: air.pressure_Pa + 30 }),
          density({ ...air, relativeHumidity: air.relativeHumidity + 0.02 }),
          density({ ...air, co2: 0.0005 }),
        ].map((changed) => changed - density(air));
        const expected = Math.hypot(...changes, 22e-6 * density(air));
        expect(combinedUncertainty(airDensityBudget(air, uncertainty)) / expected).toBeCloseTo(1, 2);
      }),
    );
  });

  it("has the slope at the reading itself, not between readings far apart", () => {
    const [, pressure] = airDensityBudget(ROOM, { ...NONE, pressure_Pa: 1 });
    const perPascal =
      (density({ ...ROOM, pressure_Pa: 101_326 }) - density({ ...ROOM, pressure_Pa: 101_324 })) / 2;
    expect(Math.abs(Number(pressure?.sensitivity) / perPascal - 1)).toBeLessThan(1e-6);
  });

  it("can be told at the ends of humidity, 0 and 100 %", () => {
    for (const relativeHumidity of [0, 1]) {
      const [, , humidity] = airDensityBudget(
        { ...ROOM, relativeHumidity },
        { ...NONE, relativeHumidity: 0.03 },
      );
      expect(humidity?.contribution).toBeCloseTo(0.000314, 5);
    }
  });
});
