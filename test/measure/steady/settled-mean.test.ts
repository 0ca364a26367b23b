import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { settledMean } from "../../../station/measure/steady/settled-mean.ts";

/** Readings at 20 Hz from `from_s` to `to_s` after switching on: 1000 approached with this time constant. */
function approach(tau_s: number, from_s: number, to_s: number, noise = 0, seed = 1) {
  const random = randomStream(seed, "approach");
  const t_s: number[] = [];
  for (let t = from_s; t <= to_s + 1e-9; t += 0.05) t_s.push(100 + t);
  const values = t_s.map((t) => 1000 * (1 - Math.exp(-(t - 100) / tau_s)) + noise * random.normal());
  return { t_s, values };
}

describe("the mean of what comes to rest", () => {
  it("is known to its scatter where nothing moves any more", () => {
    const { t_s, values } = approach(0.1, 3, 5, 1);
    const { mean, uncertainty } = settledMean(t_s, values, 100);
    expect(Math.abs(mean - 1000)).toBeLessThan(0.6);
    expect(uncertainty).toBeGreaterThan(0.15);
    expect(uncertainty).toBeLessThan(0.8);
  });

  it.each([0.2, 0.45, 0.9, 1.5])("owns up to what is still to come of an approach with %f s", (tau_s) => {
    for (const from_s of [4 * tau_s, 6 * tau_s]) {
      const { t_s, values } = approach(tau_s, from_s, from_s + 1);
      const { mean, uncertainty } = settledMean(t_s, values, 100);
      expect(1000 - mean).toBeGreaterThan(0);
      expect((1000 - mean) / uncertainty).toBeLessThan(2);
    }
  });

  it("covers the place of rest by two uncertainties in 95 of 100 noisy approaches", () => {
    let covered = 0;
    for (let seed = 0; seed < 400; seed++) {
      const tau_s = 0.2 + 0.6 * randomStream(seed, "tau").uniform();
      const { t_s, values } = approach(tau_s, 6 * tau_s, 6 * tau_s + 1, 1.5, seed);
      const { mean, uncertainty } = settledMean(t_s, values, 100);
      if (Math.abs(mean - 1000) <= 2 * uncertainty) covered++;
    }
    expect(covered).toBeGreaterThanOrEqual(370);
  });

  it("does not take an approach that has only begun for rest", () => {
    const { t_s, values } = approach(20, 1, 2);
    const { mean, uncertainty } = settledMean(t_s, values, 100);
    expect(uncertainty).toBeGreaterThan(0.3 * mean);
  });

  it("is the mean itself where all readings are nothing", () => {
    const t_s = [101, 101.1, 101.2, 101.3, 101.4];
    expect(settledMean(t_s, [0, 0, 0, 0, 0], 100)).toEqual({ mean: 0, uncertainty: 0 });
  });

  it("refuses readings from before the command", () => {
    expect(() => settledMean([1, 2, 3, 4], [1, 1, 1, 1], 5)).toThrow(RangeError);
  });
});
