import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { hasStoodStill } from "../../../station/measure/fit/standstill.ts";

/** Noise of one unit, shown in steps of this many. */
function living(count: number, resolution: number, seed = 1): number[] {
  const random = randomStream(seed, "living gauge");
  return Array.from({ length: count }, () => Math.round(random.normal() / resolution) * resolution);
}

describe("a gauge that stands still", () => {
  it("is seen wherever in the curve it froze, and though it came back", () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 770 }), fc.integer({ min: 25, max: 700 }), (at, length) => {
        const readings = living(800, 0.1);
        readings.fill(readings[at] as number, at, Math.min(800, at + length));
        expect(hasStoodStill(readings)).toBe(true);
      }),
    );
  });

  it("is seen where nothing else was ever shown", () => {
    expect(hasStoodStill(new Array(20).fill(-8000))).toBe(true);
    expect(hasStoodStill(new Array(19).fill(-8000))).toBe(false);
  });

  it.each([0.05, 0.5, 2, 4])(
    "is not seen in a living gauge that shows steps of %s of its noise",
    (resolution) => {
      for (let seed = 0; seed < 50; seed++) expect(hasStoodStill(living(800, resolution, seed))).toBe(false);
    },
  );
});
