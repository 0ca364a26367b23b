import { describe, expect, it } from "vitest";
import {
  pipeExpansibility,
  pipeOrificeFlow,
  readerHarrisGallagher,
} from "../../station/measure/gas/iso-5167.ts";

const relative = (value: number, expected: number) => Math.abs(value / expected - 1);

// ISO 5167-2:2003 equations 4 and 5; the standard's annex tables were not at hand, the figures come from two other programs
// (own transcription and python3-fluids).
describe("the orifice plate of ISO 5167-2", () => {
  it.each([
    ["O01", 100, 50, 1e5, "corner", 0.6068731633],
    ["O02", 100, 50, 1e6, "corner", 0.6037770891],
    ["O03", 100, 60, 1e5, "flange", 0.6108445691],
    ["O04", 100, 50, 1e5, "d-d2", 0.606184804],
    ["O05, small pipe", 50, 25, 3e4, "corner", 0.6131948615],
    ["O06, small pipe", 60, 36, 6e4, "flange", 0.6139805827],
    ["O31", 80, 48, 8e4, "d-d2", 0.6126012702],
  ] as const)(
    "%s: coefficient in a pipe of %d mm, bore %d mm, Reynolds number %d, %s taps",
    (_, pipe_mm, bore_mm, reynolds, taps, coefficient) => {
      const found = readerHarrisGallagher({
        pipe_m: pipe_mm / 1000,
        beta: bore_mm / pipe_mm,
        taps,
        reynolds,
      });
      expect(found).toBeCloseTo(coefficient, 9);
    },
  );

  // The example in the documentation of python3-fluids.
  it("O07: coefficient in a pipe of 73.91 mm, bore 22.2 mm, 0.12 kg/s, flange taps", () => {
    const reynolds = (4 * 0.12) / (Math.PI * 0.07391 * 1.85e-5);
    const found = readerHarrisGallagher({ pipe_m: 0.07391, beta: 22.2 / 73.91, taps: "flange", reynolds });
    expect(relative(found, 0.5990326277)).toBeLessThan(1e-9);
  });

  it.each([
    ["O08, documentation of python3-fluids", 22.2 / 73.9, 0.99, 0.9974739057],
    ["O09", 0.5, 0.98, 0.9946899865],
    ["O10", 0.6, 0.9, 0.9710164871],
    ["O32", 0.75, 0.95, 0.981109339],
  ])("%s: expansibility at bore ratio %d and pressure ratio %d", (_, beta, ratio, expansibility) => {
    expect(relative(pipeExpansibility(beta, ratio), expansibility)).toBeLessThan(1e-9);
  });

  // The same example: 0.01120390944 kg/s with C 0.5988 and expansibility 0.9975 put in.
  it("O08: mass flow at 1 kPa, coefficient and expansibility as the example has them", () => {
    const { massFlow_kg_s, expansibility } = pipeOrificeFlow({
      pipe_m: 0.0739,
      bore_m: 0.0222,
      taps: "flange",
      drop_Pa: 1000,
      upstream_Pa: 100_000,
      density_kg_m3: 1.1646,
      viscosity_Pa_s: 1.85e-5,
      coefficient: 0.5988,
    });
    expect(relative((massFlow_kg_s / expansibility) * 0.9975, 0.01120390944)).toBeLessThan(1e-9);
  });
});
