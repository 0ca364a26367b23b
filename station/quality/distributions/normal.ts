import { normalCdf, normalQuantile } from "../../../limits/normal.ts";
import { sampleOf } from "../sample.ts";
import type { Distribution, Family, Fit } from "./distribution.ts";

/** The normal distribution, with the standard deviation of n - 1; its likelihood is that of maximum likelihood all the same. */
export const NORMAL: Family = {
  name: "normal",
  words: "normal",
  parameters: 2,
  positiveOnly: false,
  fit(values) {
    const { n, mean, s, squares } = sampleOf(values);
    return { distribution: normal(mean, s), logLikelihood: normalLogLikelihood(n, squares) };
  },
};

/** Normal in its logarithm. Parameters by maximum likelihood: n in the denominator, as scipy.stats.lognorm.fit(floc=0) has it. */
export const LOGNORMAL: Family = {
  name: "lognormal",
  words: "lognormal",
  parameters: 2,
  positiveOnly: true,
  fit(values): Fit {
    const logs = Float64Array.from(values, Math.log);
    const { n, mean, squares } = sampleOf(logs);
    let sum = 0;
    for (const log of logs) sum += log;
    return {
      distribution: lognormal(mean, Math.sqrt(squares / n)),
      logLikelihood: normalLogLikelihood(n, squares) - sum,
    };
  },
};

/** @example normal(16, 2).tail(20) // 0.02275 */
function normal(mean: number, s: number): Distribution {
  return {
    family: "normal",
    parameters: { mean, s },
    cdf: (x) => normalCdf((x - mean) / s),
    tail: (x) => normalCdf((mean - x) / s),
    density: (x) => standardDensity((x - mean) / s) / s,
    quantile: (p) => mean + s * normalQuantile(p),
    draw: (random) => mean + s * random.normal(),
  };
}

/** @example lognormal(0, 1).quantile(0.5) // 1 */
export function lognormal(mu: number, sigma: number): Distribution {
  const z = (x: number) => (x > 0 ? (Math.log(x) - mu) / sigma : Number.NEGATIVE_INFINITY);
  return {
    family: "lognormal",
    parameters: { mu, sigma },
    cdf: (x) => normalCdf(z(x)),
    tail: (x) => normalCdf(-z(x)),
    density: (x) => (x > 0 ? standardDensity(z(x)) / (sigma * x) : 0),
    quantile: (p) => Math.exp(mu + sigma * normalQuantile(p)),
    draw: (random) => Math.exp(mu + sigma * random.normal()),
  };
}

/** @param squares sum of the squared deviations from the mean */
export function normalLogLikelihood(n: number, squares: number): number {
  return (-n / 2) * (Math.log(2 * Math.PI) + Math.log(squares / n) + 1);
}

function standardDensity(z: number): number {
  return Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
}
