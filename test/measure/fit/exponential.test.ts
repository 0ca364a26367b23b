import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { fillDecay, fillDecayAndDerivative } from "../../../station/measure/fit/exponential.ts";

describe("columns of exponentials", () => {
  it("are Math.exp's to fifteen digits, inside the table and beyond", () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -300, max: 300, noNaN: true }), { minLength: 1, maxLength: 30 }),
        fc.double({ min: 0.01, max: 2, noNaN: true }),
        (t, rate) => {
          const column = new Float64Array(t.length);
          fillDecay(t, rate, column);
          for (const [i, at] of t.entries()) {
            expect(Math.abs((column[i] ?? 0) / Math.exp(-at * rate) - 1)).toBeLessThan(2e-15);
          }
        },
      ),
      { numRuns: 2000 },
    );
  });

  it("go to 1, nothing and infinity where exponentials do, and keep what is no number", () => {
    const column = new Float64Array(6).fill(7);
    fillDecay([0, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, Number.NaN, 1e4], 1, column);
    expect([...column]).toEqual([1, 0, Number.POSITIVE_INFINITY, Number.NaN, 0, 7]);
  });

  it("come with the derivative by the logarithm of the time constant", () => {
    const t = [0, 0.3, 2, 50];
    const [column, derivative, up, down] = [0, 1, 2, 3].map(() => new Float64Array(4));
    if (!column || !derivative || !up || !down) throw new Error("no columns");
    fillDecayAndDerivative(t, 1 / 1.7, column, derivative);
    fillDecay(t, Math.exp(-1e-4) / 1.7, up);
    fillDecay(t, Math.exp(1e-4) / 1.7, down);
    for (const i of t.keys()) {
      expect(derivative[i]).toBeCloseTo(((up[i] ?? 0) - (down[i] ?? 0)) / 2e-4, 7);
    }
  });
});
