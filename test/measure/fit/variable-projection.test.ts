import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import {
  fitSeparable,
  type NonlinearColumn,
  type SeparableModel,
} from "../../../station/measure/fit/variable-projection.ts";
import { inverse, product } from "./dense-matrix.ts";

const N = 80;
const T = Float64Array.from({ length: N }, (_, i) => i / 20);
const ONES = new Float64Array(N).fill(1);

function decay(start: number, prior?: NonlinearColumn["prior"]): NonlinearColumn {
  return {
    start,
    ...(prior ? { prior } : {}),
    fill(rate, column, derivative) {
      for (const [i, t] of T.entries()) {
        column[i] = Math.exp(-rate * t);
        derivative[i] = -t * Math.exp(-rate * t);
      }
    },
  };
}

function noisy(seed: number, value: (t: number) => number, deviation = 1): Float64Array {
  const random = randomStream(seed, "separable");
  return T.map((t) => value(t) + deviation * random.normal());
}

describe("the separable fit", () => {
  it("finds the truth in data without noise, from starts a factor of four off either way", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.4, max: 3, noNaN: true }),
        fc.double({ min: -1.4, max: 1.4, noNaN: true }),
        fc.double({ min: 1, max: 1e4, noNaN: true }),
        (rate, off, amplitude) => {
          const y = T.map((t) => 3 - 2 * t + amplitude * Math.exp(-rate * t));
          const fit = fitSeparable(y, { linear: [ONES, T], nonlinear: [decay(rate * Math.exp(off))] });
          expect(fit.converged).toBe(true);
          expect(fit.parameters[0]).toBeCloseTo(rate, 7);
          expect(fit.linear[1]).toBeCloseTo(-2, 6);
          expect((fit.amplitudes[0] ?? 0) / amplitude).toBeCloseTo(1, 7);
        },
      ),
      { numRuns: 300 },
    );
  });

  it("has the covariance of the whole problem's normal equations, prior and all", () => {
    const deviation = 0.05;
    const y = noisy(1, (t) => 5 + 0.4 * t + 60 * Math.exp(-1.1 * t));
    const fit = fitSeparable(
      y,
      { linear: [ONES, T], nonlinear: [decay(1, { mean: 1.05, deviation })] },
      { tolerance: 1e-12 },
    );
    const [rate = 0, amplitude = 0] = [fit.parameters[0], fit.amplitudes[0]];
    const jacobian = [
      [...ONES],
      [...T],
      [...T].map((t) => Math.exp(-rate * t)),
      [...T].map((t) => -amplitude * t * Math.exp(-rate * t)),
    ];
    const normal = jacobian.map((one, i) =>
      jacobian.map((other, j) => product(one, other) + (i === 3 && j === 3 ? 1 / deviation ** 2 : 0)),
    );
    for (const [i, row] of inverse(normal).entries()) {
      for (const [j, expected] of row.entries()) {
        expect((fit.covariance[i]?.[j] ?? 0) / expected).toBeCloseTo(1, 8);
      }
    }
  });

  it("stands where the gradient of the whole problem is nothing, prior and all", () => {
    const prior = { mean: 1.3, deviation: 0.1 };
    const y = noisy(2, (t) => 5 + 0.4 * t + 40 * Math.exp(-t));
    const fit = fitSeparable(y, { linear: [ONES, T], nonlinear: [decay(1.3, prior)] }, { tolerance: 1e-12 });
    const cost = (c: number, s: number, a: number, k: number) =>
      T.reduce((sum, t, i) => sum + (c + s * t + a * Math.exp(-k * t) - (y[i] ?? 0)) ** 2, 0) +
      ((k - prior.mean) / prior.deviation) ** 2;
    const best = [...fit.linear, ...fit.amplitudes, ...fit.parameters] as [number, number, number, number];
    for (const at of best.keys()) {
      for (const step of [1e-4, -1e-4]) {
        const moved = best.map((value, i) => (i === at ? value + step : value)) as typeof best;
        expect(cost(...moved)).toBeGreaterThan(cost(...best));
      }
    }
  });

  it("takes one more row as what is known of a linear coefficient", () => {
    const y = Float64Array.from([10, 12, 14, 50 / 2]);
    const ones = Float64Array.from([1, 1, 1, 1 / 2]);
    const fit = fitSeparable(y, { linear: [ones], nonlinear: [] });
    // Three readings of unit variance at a mean of 12, known beforehand as 50 give or take 2: weights 3 and 1/4.
    expect(fit.linear[0]).toBeCloseTo((3 * 12 + 50 / 4) / 3.25, 12);
    expect(fit.covariance[0]?.[0]).toBeCloseTo(1 / 3.25, 12);
  });

  it("keeps two exponentials apart that start almost as one", () => {
    const y = T.map((t) => 7 * Math.exp(-0.5 * t) + 9 * Math.exp(-2 * t));
    const fit = fitSeparable(y, { linear: [], nonlinear: [decay(1), decay(1.001)] });
    expect(fit.converged).toBe(true);
    expect([...fit.parameters].sort((a, b) => a - b)).toEqual([expect.closeTo(0.5, 6), expect.closeTo(2, 6)]);
  });

  it("says so when it ran out of iterations", () => {
    const y = noisy(3, (t) => 60 * Math.exp(-t));
    const model: SeparableModel = { linear: [ONES], nonlinear: [decay(20)] };
    expect(fitSeparable(y, model, { mostIterations: 2 }).converged).toBe(false);
    expect(fitSeparable(y, model).converged).toBe(true);
  });

  it("gives the same parameters whatever the unit of the data", () => {
    const y = noisy(4, (t) => 5 + 60 * Math.exp(-1.1 * t));
    const model: SeparableModel = { linear: [ONES], nonlinear: [decay(0.8)] };
    const one = fitSeparable(y, model);
    for (const unit of [1e-9, 1e6]) {
      const other = fitSeparable(
        y.map((value) => value * unit),
        model,
      );
      expect((other.parameters[0] ?? 0) / (one.parameters[0] ?? 0)).toBeCloseTo(1, 8);
      expect((other.linear[0] ?? 0) / unit / (one.linear[0] ?? 0)).toBeCloseTo(1, 8);
    }
  });

  it("refuses columns that depend on each other, differ in length, or are more than the rows", () => {
    const twice = ONES.map((value) => 2 * value);
    expect(() => fitSeparable(T, { linear: [ONES, twice], nonlinear: [] })).toThrow("depend on each other");
    expect(() => fitSeparable(T, { linear: [ONES], nonlinear: [decay(0)] })).toThrow("depend on each other");
    expect(() => fitSeparable(T, { linear: [new Float64Array(3)], nonlinear: [] })).toThrow("3 rows");
    expect(() => fitSeparable(new Float64Array(2), { linear: [], nonlinear: [decay(1), decay(2)] })).toThrow(
      "4 unknowns got 2 rows",
    );
  });
});
