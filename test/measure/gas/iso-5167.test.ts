import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  type PipeOrifice,
  pipeOrificeFlow,
  readerHarrisGallagher,
} from "../../../station/measure/gas/iso-5167.ts";

const PLATE: PipeOrifice = {
  pipe_m: 0.1,
  bore_m: 0.05,
  taps: "corner",
  drop_Pa: 1000,
  upstream_Pa: 101_325,
  density_kg_m3: 1.2,
  viscosity_Pa_s: 1.8134e-5,
};
const plate: fc.Arbitrary<PipeOrifice> = fc
  .record({
    pipe_m: fc.double({ min: 0.03, max: 0.3, noNaN: true }),
    beta: fc.double({ min: 0.1, max: 0.75, noNaN: true }),
    taps: fc.constantFrom("corner", "flange", "d-d2"),
    drop_Pa: fc.double({ min: 1e-6, max: 25_000, noNaN: true }),
  })
  .map(({ beta, ...rest }) => ({ ...PLATE, ...rest, bore_m: rest.pipe_m * beta }));
const relative = (value: number, expected: number) => Math.abs(value / expected - 1);

describe("flow through an orifice plate in a pipe", () => {
  it("has the coefficient of the Reynolds number it flows at, from a breath to the largest drop", () => {
    fc.assert(
      fc.property(plate, (given) => {
        const { pipe_m, bore_m, taps, viscosity_Pa_s, density_kg_m3 } = given;
        const { coefficient, reynolds, massFlow_kg_s, volumeFlow_m3_s } = pipeOrificeFlow(given);
        const beta = bore_m / pipe_m;
        expect(relative(coefficient, readerHarrisGallagher({ pipe_m, beta, taps, reynolds }))).toBeLessThan(
          1e-10,
        );
        expect(relative(reynolds, (4 * massFlow_kg_s) / (Math.PI * pipe_m * viscosity_Pa_s))).toBeLessThan(
          1e-12,
        );
        expect(relative(volumeFlow_m3_s, massFlow_kg_s / density_kg_m3)).toBeLessThan(1e-12);
      }),
    );
  });

  it("with a calibrated coefficient is in proportion to it, and claims no uncertainty of the standard's", () => {
    const [own, more] = [
      pipeOrificeFlow({ ...PLATE, coefficient: 0.6 }),
      pipeOrificeFlow({ ...PLATE, coefficient: 0.606 }),
    ];
    expect(relative(more.massFlow_kg_s, 1.01 * own.massFlow_kg_s)).toBeLessThan(1e-12);
    expect(own.coefficient).toBe(0.6);
    expect(own.uncertainty).toBeNull();
  });

  it("is nothing without a drop, and says that there is no Reynolds number", () => {
    const still = pipeOrificeFlow({ ...PLATE, drop_Pa: 0 });
    expect(still).toMatchObject({ massFlow_kg_s: 0, volumeFlow_m3_s: 0, reynolds: 0, expansibility: 1 });
    expect(still.coefficient).toBeGreaterThan(0.59);
    expect(still.outside.join()).toMatch(/Reynolds number of at least 5000 in the pipe, there is 0\./);
  });

  // Limits of use of ISO 5167-2:2003, 5.3.1 (from memory), each from both sides. 50 mm bore in 100 mm at 1 kPa has a
  // Reynolds number of about 43 000.
  it.each<[string, Partial<PipeOrifice>, RegExp | null]>([
    ["an ordinary plate", {}, null],
    ["a bore of 12.5 mm", { bore_m: 0.0125, pipe_m: 0.05, drop_Pa: 10_000 }, null],
    [
      "a bore of 12 mm",
      { bore_m: 0.012, pipe_m: 0.05, drop_Pa: 10_000 },
      /bore of at least 12\.5 mm, this one has 12 mm/,
    ],
    ["a pipe of 49 mm", { pipe_m: 0.049, bore_m: 0.025 }, /pipes of 50 mm to 1 m, this one has 49 mm/],
    ["a pipe of 1.1 m", { pipe_m: 1.1, bore_m: 0.5 }, /this one has 1100 mm/],
    ["a bore of 0.75 of the pipe", { bore_m: 0.075 }, null],
    ["a bore of 0.76 of the pipe", { bore_m: 0.076 }, /0\.10 to 0\.75 of the pipe, this one has 0\.760/],
    ["a bore of 0.09 of the pipe", { pipe_m: 0.5, bore_m: 0.045 }, /this one has 0\.090/],
    ["a Reynolds number below 5000", { drop_Pa: 10 }, /at least 5000 in the pipe, there is 4\d\d\d/],
    [
      "a wide bore below 16000 b2",
      { bore_m: 0.07, drop_Pa: 5 },
      /at least 7840 in the pipe, there is 6\d\d\d/,
    ],
    [
      "flange taps below 170 b2 D",
      { pipe_m: 0.5, bore_m: 0.3, drop_Pa: 5, taps: "flange" },
      /at least 30600 in the pipe/,
    ],
    ["the same plate with corner taps", { pipe_m: 0.5, bore_m: 0.3, drop_Pa: 5 }, null],
    ["a quarter of the pressure lost", { drop_Pa: 25_000, upstream_Pa: 100_000 }, null],
    [
      "more than a quarter lost",
      { drop_Pa: 26_000, upstream_Pa: 100_000 },
      /0\.75 of the upstream pressure behind the plate, there is 0\.740/,
    ],
  ])("is told to be inside or outside the standard's limits: %s", (_, change, sentence) => {
    const { outside } = pipeOrificeFlow({ ...PLATE, ...change });
    if (sentence === null) expect(outside).toEqual([]);
    else expect(outside).toEqual([expect.stringMatching(sentence)]);
  });

  // ISO 5167-2:2003, 5.3.3.1 (from memory), halved: percent of the coefficient.
  it.each([
    ["narrow, 0.7 - b", { bore_m: 0.015 }, 0.55],
    ["middling, 0.5", { bore_m: 0.05 }, 0.5],
    ["wide, 1.667 b - 0.5", { bore_m: 0.07 }, 0.6669],
    ["a small pipe more", { pipe_m: 0.06, bore_m: 0.03 }, 0.5 + 0.9 * 0.25 * (2.8 - 60 / 25.4)],
    ["wide and slow 0.5 more", { bore_m: 0.07, drop_Pa: 8 }, 1.1669],
  ])("has the standard's uncertainty of the coefficient: %s", (_, change, expanded_percent) => {
    expect(pipeOrificeFlow({ ...PLATE, ...change }).uncertainty).toBeCloseTo(expanded_percent / 200, 9);
  });

  it("has an expansibility uncertain by half of 3.5 % dp / (k p1), and more exact the smaller the drop", () => {
    // ISO 5167-2:2003, 5.3.3.2 (from memory).
    expect(
      pipeOrificeFlow({ ...PLATE, drop_Pa: 14_000, upstream_Pa: 100_000 }).expansibilityUncertainty,
    ).toBeCloseTo(0.00175, 9);
  });

  it.each([
    ["a bore as wide as the pipe", { bore_m: 0.1 }],
    ["a drop that is the whole pressure", { drop_Pa: 101_325 }],
    ["a drop the wrong way", { drop_Pa: -1 }],
    ["a drop that is no number", { drop_Pa: Number.NaN }],
    ["no viscosity", { viscosity_Pa_s: 0 }],
    ["no density", { density_kg_m3: 0 }],
    ["a coefficient of nothing", { coefficient: 0 }],
    ["no bore", { bore_m: 0 }],
  ])("with %s is refused, never calculated", (_, change) => {
    expect(() => pipeOrificeFlow({ ...PLATE, ...change })).toThrow(RangeError);
  });
});
