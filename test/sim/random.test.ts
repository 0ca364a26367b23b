import { describe, expect, it } from "vitest";
import { RandomStream, randomStream } from "../../sim/random.ts";

describe("random streams", () => {
  // Reference outputs of xoshiro128starstar.c 1.1 (Blackman and Vigna) from state 1, 2, 3, 4, as published in the
  // tests of the rand_xoshiro crate.
  it("gives the published outputs of xoshiro128** 1.1", () => {
    const stream = new RandomStream([1, 2, 3, 4]);
    const outputs = Array.from({ length: 10 }, () => stream.nextUint32());
    expect(outputs).toEqual([
      11520, 0, 5927040, 70819200, 2031721883, 1637235492, 1287239034, 3734860849, 3729100597, 4258142804,
    ]);
  });

  it("refuses the all-zero state, from which the generator never leaves", () => {
    expect(() => new RandomStream([0, 0, 0, 0])).toThrow(RangeError);
  });

  it("gives the same numbers for the same seed and name, others for another name or seed", () => {
    const first = (seed: number, name: string) => randomStream(seed, name).nextUint32();
    expect(first(7, "unit 3")).toBe(first(7, "unit 3"));
    expect(first(7, "unit 3")).not.toBe(first(7, "unit 4"));
    expect(first(7, "unit 3")).not.toBe(first(8, "unit 3"));
  });

  it("draws normal deviates whose moments and tails are those of the normal distribution", () => {
    const stream = randomStream(1, "normal");
    const n = 200_000;
    const sums = { one: 0, two: 0, four: 0, beyond2: 0 };
    for (let i = 0; i < n; i++) {
      const z = stream.normal();
      sums.one += z;
      sums.two += z * z;
      sums.four += z ** 4;
      if (Math.abs(z) > 1.959964) sums.beyond2++;
    }
    expect(Math.abs(sums.one / n)).toBeLessThan(0.01);
    expect(sums.two / n).toBeCloseTo(1, 1);
    expect(sums.four / n).toBeCloseTo(3, 0);
    expect(sums.beyond2 / n).toBeCloseTo(0.05, 2);
  });
});
