import { sampleOf } from "../sample.ts";
import type { Distribution, Family, Fit } from "./distribution.ts";
import { lognormal, normalLogLikelihood } from "./normal.ts";

/** How near its least value, and how far from it, the threshold is looked for, in standard deviations of the values. */
const [NEAREST, FARTHEST] = [1e-4, 30];
const STEPS = 40;

/**
 * Lognormal from a threshold of its own, which may be below zero: leak rates by a gauge that scatters about zero are skewed and
 * some of them negative. The threshold is where the logarithms above it are not skewed, mean and standard deviation are those
 * of the logarithms (maximum likelihood has no greatest value here: it grows without end as the threshold comes to the least value).
 * @see Griffiths, Journal of the Royal Statistical Society C 29 (1980) 63-68; Cohen and Whitten, Journal of the American
 * Statistical Association 75 (1980) 399-404 (both from memory)
 */
export const SHIFTED_LOGNORMAL: Family = {
  name: "shifted-lognormal",
  words: "shifted lognormal",
  parameters: 3,
  positiveOnly: false,
  /** @returns null for values that are not skewed to the right, or so little that the threshold is nowhere near */
  fit(values): Fit | null {
    const { n, s } = sampleOf(values);
    let least = Number.POSITIVE_INFINITY;
    for (let i = 0; i < n; i++) least = Math.min(least, values[i] ?? 0);
    if (!(s > 0)) return null;
    const above = new Float64Array(n);
    for (let i = 0; i < n; i++) above[i] = (values[i] ?? 0) - least;
    const logs = new Float64Array(n);
    const skewnessFrom = (distance: number) => {
      for (let i = 0; i < n; i++) logs[i] = Math.log((above[i] ?? 0) + distance);
      return skewnessOf(logs);
    };
    let [low, high] = [Math.log(NEAREST * s), Math.log(FARTHEST * s)];
    if (!(skewnessFrom(Math.exp(low)) < 0 && skewnessFrom(Math.exp(high)) > 0)) return null;
    for (let step = 0; step < STEPS && high - low > 1e-9; step++) {
      const middle = (low + high) / 2;
      if (skewnessFrom(Math.exp(middle)) < 0) low = middle;
      else high = middle;
    }
    const distance = Math.exp((low + high) / 2);
    skewnessFrom(distance);
    const { mean, squares } = sampleOf(logs);
    let sum = 0;
    for (const log of logs) sum += log;
    return {
      distribution: shifted(least - distance, mean, Math.sqrt(squares / n)),
      logLikelihood: normalLogLikelihood(n, squares) - sum,
    };
  },
};

function shifted(threshold: number, mu: number, sigma: number): Distribution {
  const above = lognormal(mu, sigma);
  return {
    family: "shifted-lognormal",
    parameters: { threshold, mu, sigma },
    cdf: (x) => above.cdf(x - threshold),
    tail: (x) => above.tail(x - threshold),
    density: (x) => above.density(x - threshold),
    quantile: (p) => threshold + above.quantile(p),
    draw: (random) => threshold + above.draw(random),
  };
}

/** Sign and size of the third moment about the mean. */
function skewnessOf(values: Float64Array): number {
  const { n, mean, squares } = sampleOf(values);
  let cubes = 0;
  for (const value of values) cubes += (value - mean) ** 3;
  return cubes / n / (squares / n) ** 1.5;
}
