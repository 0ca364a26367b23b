import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { estimateNoise, type GaugeNoise, Whitener } from "../../../station/measure/fit/gauge-noise.ts";
import { cholesky, forwardSolve, noiseCovariance, product } from "./dense-matrix.ts";
import { evenTimes, gaugeNoise, unevenTimes } from "./model-curve.ts";

const NOISE = fc.record({
  white_Pa: fc.double({ min: 0.05, max: 5, noNaN: true }),
  wander_Pa: fc.double({ min: 0, max: 5, noNaN: true }),
  wanderTau_s: fc.double({ min: 0.01, max: 50, noNaN: true }),
});
/** Rising times with anything from bursts to gaps. */
const TIMES = fc
  .array(fc.double({ min: 1e-4, max: 3, noNaN: true }), { minLength: 2, maxLength: 40 })
  .map((steps) => {
    let t = 0;
    return steps.map((step) => {
      t += step;
      return t;
    });
  });

function whitened(t_s: readonly number[], noise: GaugeNoise, column: readonly number[]): number[] {
  const made = Float64Array.from(column);
  new Whitener(t_s, noise).apply(made);
  return [...made];
}

describe("whitening", () => {
  it("is what the whole covariance matrix says, at any times and for any noise", () => {
    fc.assert(
      fc.property(TIMES, NOISE, fc.integer({ min: 0, max: 1e6 }), (t_s, noise, seed) => {
        const random = randomStream(seed, "columns");
        const [a, b] = [t_s.map(() => random.normal()), t_s.map(() => random.normal())];
        const lower = cholesky(noiseCovariance(t_s, noise));
        const expected = product(forwardSolve(lower, a), forwardSolve(lower, b));
        const size = Math.sqrt(
          product(forwardSolve(lower, a), forwardSolve(lower, a)) *
            product(forwardSolve(lower, b), forwardSolve(lower, b)),
        );
        const found = product(whitened(t_s, noise, a), whitened(t_s, noise, b));
        expect(Math.abs(found - expected)).toBeLessThan(1e-9 * size);
        const logDeterminant = 2 * lower.reduce((sum, row, i) => sum + Math.log(row[i] ?? 0), 0);
        expect(new Whitener(t_s, noise).logVariances).toBeCloseTo(logDeterminant, 7);
      }),
      { numRuns: 300 },
    );
  });

  it("takes two columns at once as one after the other, and leaves rows beyond the samples alone", () => {
    const t_s = unevenTimes(60, randomStream(1, "times"));
    const whitener = new Whitener(t_s, { white_Pa: 0.6, wander_Pa: 0.4, wanderTau_s: 0.5 });
    const [a, b] = [0, 1].map((k) => Float64Array.from({ length: 62 }, (_, i) => Math.cos(i * (k + 1))));
    if (!a || !b) throw new Error("no columns");
    const [one, other] = [a.slice(), b.slice()];
    whitener.apply(a);
    whitener.apply(b);
    whitener.applyToBoth(one, other);
    expect(one).toEqual(a);
    expect(other).toEqual(b);
    expect(one.slice(60)).toEqual(Float64Array.from([60, 61], (i) => Math.cos(i)));
  });

  it("asks only how far apart the samples are, not when they were taken", () => {
    const noise = { white_Pa: 0.6, wander_Pa: 0.4, wanderTau_s: 0.5 };
    const t_s = evenTimes(50).map((_, i) => i / 64);
    const column = t_s.map((t) => Math.sin(7 * t));
    expect(
      whitened(
        t_s.map((t) => t + 1024),
        noise,
        column,
      ),
    ).toEqual(whitened(t_s, noise, column));
  });

  it("refuses noise that is nothing and times that do not rise", () => {
    const noise = { white_Pa: 0.6, wander_Pa: 0.4, wanderTau_s: 0.5 };
    expect(() => new Whitener([0, 1], { ...noise, white_Pa: 0 })).toThrow(RangeError);
    expect(() => new Whitener([0, 1], { ...noise, wander_Pa: -1 })).toThrow(RangeError);
    expect(() => new Whitener([0, 1, 1], noise)).toThrow("must rise");
    expect(() => new Whitener([0, 1, 0.5], noise)).toThrow("must rise");
  });
});

describe("the noise estimated from residuals", () => {
  function learned(noise: GaugeNoise, t_s: readonly number[], curves: number, seed: number): GaugeNoise {
    const random = randomStream(seed, "noise");
    return estimateNoise(
      Array.from({ length: curves }, () => ({ t_s, residual_Pa: gaugeNoise(t_s, { noise }, random) })),
    );
  }

  it.each([
    ["even sampling", evenTimes(1500)],
    ["uneven sampling with a gap", unevenTimes(1500, randomStream(5, "times"))],
  ])("is what was put in, both parts and the time constant: %s", (_, t_s) => {
    const noise = { white_Pa: 0.6, wander_Pa: 0.3, wanderTau_s: 0.5 };
    const seeds = [1, 2, 3, 4, 5];
    const found = seeds.map((seed) => learned(noise, t_s, 4, seed));
    for (const key of ["white_Pa", "wander_Pa", "wanderTau_s"] as const) {
      const mean = Math.exp(found.reduce((sum, each) => sum + Math.log(each[key]), 0) / seeds.length);
      // The white part is in 6,000 readings; the wandering one in some 120 stretches that forget each other.
      const within = { white_Pa: 0.01, wander_Pa: 0.08, wanderTau_s: 0.25 }[key];
      expect(Math.abs(mean / noise[key] - 1), key).toBeLessThan(within);
    }
  });

  it("has hardly a wandering part where there is none", () => {
    const { white_Pa, wander_Pa } = learned(
      { white_Pa: 2, wander_Pa: 0, wanderTau_s: 1 },
      evenTimes(1500),
      3,
      9,
    );
    expect(white_Pa).toBeCloseTo(2, 1);
    expect(wander_Pa).toBeLessThan(0.15);
  });

  it("sees wandering that is larger than the white part", () => {
    const noise = { white_Pa: 0.2, wander_Pa: 2, wanderTau_s: 0.3 };
    const found = learned(noise, evenTimes(1500), 4, 11);
    expect(Math.abs(found.white_Pa / noise.white_Pa - 1)).toBeLessThan(0.15);
    expect(Math.abs(found.wander_Pa / noise.wander_Pa - 1)).toBeLessThan(0.15);
    expect(Math.abs(found.wanderTau_s / noise.wanderTau_s - 1)).toBeLessThan(0.3);
  });

  it("refuses fewer than 100 readings, and readings without noise", () => {
    const t_s = evenTimes(99);
    expect(() => estimateNoise([{ t_s, residual_Pa: t_s }])).toThrow("got 99");
    const many = evenTimes(200);
    expect(() => estimateNoise([{ t_s: many, residual_Pa: many.map(() => 0) }])).toThrow("no noise");
  });
});
