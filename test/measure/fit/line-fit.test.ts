import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { fitLine } from "../../../station/measure/fit/line-fit.ts";

// Its digits are checked on NIST's Norris set in test/published/norris.test.ts.

describe("the line fit", () => {
  it("loses no digits to a large offset: a pressure of 8 kPa that moves by a thousandth", () => {
    const t_s = Array.from({ length: 500 }, (_, i) => i / 50);
    const fit = fitLine(
      t_s,
      t_s.map((t) => -8000 + 1e-3 * t),
    );
    expect(fit.slope).toBeCloseTo(1e-3, 12);
    expect(fit.intercept).toBeCloseTo(-8000, 9);
  });

  it("has the standard uncertainty that slopes of independent noise scatter by", () => {
    const random = randomStream(1, "lines");
    const x = Array.from({ length: 50 }, (_, i) => (i * i) / 50);
    const fits = Array.from({ length: 2000 }, () =>
      fitLine(
        x,
        x.map((at) => 2 * at + 3 * random.normal()),
      ),
    );
    const scatter = Math.sqrt(fits.reduce((sum, { slope }) => sum + (slope - 2) ** 2, 0) / fits.length);
    const told = fits.reduce((sum, { slopeUncertainty }) => sum + slopeUncertainty, 0) / fits.length;
    expect(Math.abs(told / scatter - 1)).toBeLessThan(0.05);
  });

  it("tells how neighbouring residuals hang together", () => {
    const random = randomStream(2, "lines");
    const x = Array.from({ length: 4000 }, (_, i) => i);
    let memory = 0;
    const wandering = x.map(() => {
      memory = 0.7 * memory + random.normal();
      return memory;
    });
    expect(fitLine(x, wandering).lagOneCorrelation).toBeCloseTo(0.7, 1);
    expect(
      fitLine(
        x,
        x.map(() => random.normal()),
      ).lagOneCorrelation,
    ).toBeCloseTo(0, 1);
    expect(fitLine([0, 1, 2], [1000, 998, 996])).toMatchObject({ slope: -2, lagOneCorrelation: 0 });
  });

  it("refuses fewer than three samples, unequal lengths, and one time only", () => {
    expect(() => fitLine([0, 1], [0, 1])).toThrow("got 2 and 2");
    expect(() => fitLine([0, 1, 2], [0, 1])).toThrow("got 3 and 2");
    expect(() => fitLine([1, 1, 1], [0, 1, 2])).toThrow("different times");
  });
});
