import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { isolatedWildReadings } from "../../../station/measure/fit/wild-readings.ts";

function noise(n: number, seed: number): number[] {
  const random = randomStream(seed, "readings");
  return Array.from({ length: n }, () => random.normal());
}

describe("isolated wild readings", () => {
  it("are found alone, at any place, where they stand far enough off", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 39 }),
        fc.double({ min: 45, max: 1e9, noNaN: true }),
        fc.boolean(),
        fc.integer({ min: 0, max: 1e6 }),
        (place, size, isUp, seed) => {
          const readings = noise(40, seed);
          readings[place] = (readings[place] ?? 0) + (isUp ? size : -size);
          expect([...isolatedWildReadings(readings, 1)]).toContain(place);
          expect(isolatedWildReadings(readings, 1).size).toBe(1);
        },
      ),
      { numRuns: 2000 },
    );
  });

  it("are none in noise, nor on a steep curve that bends, sampled unevenly", () => {
    for (let seed = 0; seed < 300; seed++) {
      const random = randomStream(seed, "steep");
      const readings = noise(100, seed).map(
        (value, i) => value + 300 * Math.exp(-(i + random.uniform()) / 60),
      );
      expect(isolatedWildReadings(readings, 1).size).toBe(0);
    }
  });

  it("are none where the pressure steps and stays, and two where two spoil one stretch", () => {
    const stepped = noise(60, 1).map((value, i) => value + (i >= 30 ? 100 : 0));
    expect(isolatedWildReadings(stepped, 1).size).toBe(0);
    const spoilt = noise(60, 2).map((value, i) => value + (i === 20 || i === 22 ? 100 : 0));
    expect([...isolatedWildReadings(spoilt, 1)].sort()).toEqual([20, 22]);
  });

  it("are what is no number too", () => {
    const readings = noise(40, 3);
    readings[39] = Number.POSITIVE_INFINITY;
    expect([...isolatedWildReadings(readings, 1)]).toEqual([39]);
  });

  it("cannot be told in fewer than five readings", () => {
    expect(isolatedWildReadings([0, 1e6, 0, 0], 1).size).toBe(0);
    expect([...isolatedWildReadings([0, 1e6, 0, 0, 0], 1)]).toEqual([1]);
  });
});
