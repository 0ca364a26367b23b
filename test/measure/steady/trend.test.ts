import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { correlationWidening } from "../../../station/measure/fit/correlation-widening.ts";
import { trendOf } from "../../../station/measure/steady/trend.ts";

const times = (seconds: number) => Array.from({ length: Math.round(seconds * 20) + 1 }, (_, i) => i / 20);

/** A lagging gauge's noise: neighbours correlate by `keeps`. Standard deviation 1. */
function lagging(count: number, keeps: number, seed: number): number[] {
  const random = randomStream(seed, "lagging");
  let value = random.normal();
  return Array.from({ length: count }, () => {
    value = keeps * value + Math.sqrt(1 - keeps * keeps) * random.normal();
    return value;
  });
}

/** Part of seeded series for which the true value lies within two standard uncertainties. */
function covered(within: (seed: number) => boolean, seeds = 1000): number {
  let count = 0;
  for (let seed = 0; seed < seeds; seed++) count += Number(within(seed));
  return count / seeds;
}

describe("the trend of a window", () => {
  it("is the slope of the line, which counts against the mean by half the way it goes", () => {
    const trend = trendOf([0, 1, 2, 3], [100, 101, 102, 103]);
    expect(trend).toMatchObject({ mean: 101.5, n: 4 });
    expect(trend.slope).toBeCloseTo(1, 12);
    expect(trend.meanUncertainty).toBeCloseTo(1.5, 9);
  });

  it("refuses fewer readings than show their own scatter", () => {
    expect(() => trendOf([0, 1, 2], [1, 2, 3])).toThrow(RangeError);
  });

  // Forty-one readings that correlate by 0.7 are worth seven: two standard uncertainties of so few cover nine in ten.
  it.each([
    [0, 0.92],
    [0.4, 0.89],
    [0.7, 0.84],
  ])(
    "is known as well as it says, for a slope of its own and noise whose neighbours correlate by %d",
    (keeps, least) => {
      const t_s = times(2);
      const part = covered((seed) => {
        const noise = lagging(t_s.length, keeps, seed);
        const { slope, slopeUncertainty } = trendOf(
          t_s,
          t_s.map((t, i) => 1000 + 0.3 * t + (noise[i] as number)),
        );
        return Math.abs(slope - 0.3) <= 2 * slopeUncertainty;
      });
      expect(part).toBeGreaterThan(least);
      expect(part).toBeLessThan(0.995);
    },
  );

  it.each([0.8, 1.3, 2, 5, 8])(
    "is found under a mains ripple of %d Hz far larger than the noise, in less time than would average it out",
    (frequency_Hz) => {
      const t_s = times(2.4);
      const errors = Array.from({ length: 200 }, (_, seed) => {
        const random = randomStream(seed, "ripple");
        const phase = random.between(0, 2 * Math.PI);
        const { slope, slopeUncertainty } = trendOf(
          t_s,
          t_s.map(
            (t) =>
              1000 + 2 * t + 8 * Math.sin(2 * Math.PI * frequency_Hz * t + phase) + 0.5 * random.normal(),
          ),
        );
        return { off: Math.abs(slope - 2), slopeUncertainty };
      });
      // A line alone would be off by up to 1.9 times the ripple over the window's length and number of periods.
      const largest = Math.max(...errors.map(({ off }) => off));
      expect(largest).toBeLessThan(1.2);
      const part = errors.filter(({ off, slopeUncertainty: u }) => off <= 2 * u).length / errors.length;
      expect(part).toBeGreaterThan(0.85);
    },
  );

  it("counts it against the mean that a ripple has not come to the end of its period", () => {
    const t_s = times(1.75);
    const values = t_s.map((t) => 1000 + 10 * Math.sin(2 * Math.PI * t));
    const { mean, meanUncertainty } = trendOf(t_s, values);
    expect(Math.abs(mean - 1000)).toBeGreaterThan(0.5);
    expect(meanUncertainty).toBeGreaterThanOrEqual(Math.abs(mean - 1000) * 0.99);
  });
});

describe("the mean of steady samples", () => {
  it.each([0, 0.5, 0.8])(
    "is known as well as it says where neighbours correlate by %d, and worse than independent samples would be",
    (keeps) => {
      const part = covered((seed) => {
        const { mean, meanUncertainty } = trendOf(times(2.95), lagging(60, keeps, seed));
        return Math.abs(mean) <= 2 * meanUncertainty;
      });
      expect(part).toBeGreaterThan(0.88);
      expect(part).toBeLessThan(0.995);
    },
  );

  it("is widened by as much as a first-order autoregression asks, never narrowed, never to more than two samples' worth", () => {
    expect(correlationWidening(0.5, 1e6, 1)).toBeCloseTo(Math.sqrt(3), 4);
    expect(correlationWidening(-0.6, 20, 1)).toBe(1);
    expect(correlationWidening(0.999, 20, 1)).toBeCloseTo(Math.sqrt(10), 12);
  });
});
