import { sampleOf } from "../sample.ts";
import type { Distribution, Family, Fit } from "./distribution.ts";

/** The smallest of many (Gumbel's, to the left): skewed to the left, on both sides of zero. */
export const SMALLEST_EXTREME: Family = {
  name: "smallest-extreme-value",
  words: "smallest extreme value",
  parameters: 2,
  positiveOnly: false,
  fit(values) {
    const found = fitSmallest(values);
    if (!found) return null;
    const { location, scale, logLikelihood } = found;
    return { distribution: smallest(location, scale), logLikelihood };
  },
};

/** The largest of many (Gumbel's, to the right): skewed to the right as leak rates are, on both sides of zero. */
export const LARGEST_EXTREME: Family = {
  name: "largest-extreme-value",
  words: "largest extreme value",
  parameters: 2,
  positiveOnly: false,
  fit(values) {
    const found = fitSmallest(Float64Array.from(values, (value) => -value));
    if (!found) return null;
    const { location, scale, logLikelihood } = found;
    const mirrored = smallest(location, scale);
    return {
      distribution: {
        family: "largest-extreme-value",
        parameters: { location: -location, scale },
        cdf: (x) => mirrored.tail(-x),
        tail: (x) => mirrored.cdf(-x),
        density: (x) => mirrored.density(-x),
        quantile: (p) => -(location + scale * Math.log(-Math.log(p))),
        draw: (random) => -mirrored.draw(random),
      },
      logLikelihood,
    };
  },
};

/** Weibull's distribution, from zero: its logarithm is a smallest extreme value. */
export const WEIBULL: Family = {
  name: "weibull",
  words: "Weibull",
  parameters: 2,
  positiveOnly: true,
  fit(values): Fit | null {
    const logs = Float64Array.from(values, Math.log);
    const found = fitSmallest(logs);
    if (!found) return null;
    let sum = 0;
    for (const log of logs) sum += log;
    const { location, scale, logLikelihood } = found;
    const ofLog = smallest(location, scale);
    const at = (x: number) => (x > 0 ? Math.log(x) : Number.NEGATIVE_INFINITY);
    return {
      distribution: {
        family: "weibull",
        parameters: { shape: 1 / scale, scale: Math.exp(location) },
        cdf: (x) => ofLog.cdf(at(x)),
        tail: (x) => ofLog.tail(at(x)),
        density: (x) => (x > 0 ? ofLog.density(at(x)) / x : 0),
        quantile: (p) => Math.exp(ofLog.quantile(p)),
        draw: (random) => Math.exp(ofLog.draw(random)),
      },
      logLikelihood: logLikelihood - sum,
    };
  },
};

function smallest(location: number, scale: number): Distribution {
  const hazard = (x: number) => Math.exp((x - location) / scale);
  return {
    family: "smallest-extreme-value",
    parameters: { location, scale },
    cdf: (x) => -Math.expm1(-hazard(x)),
    tail: (x) => Math.exp(-hazard(x)),
    density: (x) => {
      const z = (x - location) / scale;
      return Math.exp(z - Math.exp(z)) / scale;
    },
    quantile: (p) => location + scale * Math.log(-Math.log1p(-p)),
    draw: (random) => location + scale * Math.log(-Math.log(random.uniform())),
  };
}

/**
 * Maximum likelihood: with y in standard deviations from its mean, the root k of sum(y e^(ky)) / sum(e^(ky)) = 1/k, which
 * rises with k, so that there is one; Newton's steps, halved where they leave what is positive.
 */
function fitSmallest(
  values: ArrayLike<number>,
): { readonly location: number; readonly scale: number; readonly logLikelihood: number } | null {
  const { n, mean, squares } = sampleOf(values);
  const spread = Math.sqrt(squares / n);
  if (!(spread > 0)) return null;
  const y = Float64Array.from(values, (value) => (value - mean) / spread);
  let largest = Number.NEGATIVE_INFINITY;
  for (const at of y) if (at > largest) largest = at;
  let k = startOf(values);
  let total = 0;
  for (let step = 0; step < 100; step++) {
    total = 0;
    let first = 0;
    let second = 0;
    for (let i = 0; i < n; i++) {
      const at = y[i] ?? 0;
      const weight = Math.exp(k * (at - largest));
      total += weight;
      first += weight * at;
      second += weight * at * at;
    }
    const weighted = first / total;
    const change = (weighted - 1 / k) / (second / total - weighted * weighted + 1 / (k * k));
    if (Math.abs(change) < 1e-12 * k) break;
    k = change < k ? k - change : k / 2;
    if (!(k < 1e6)) return null;
  }
  const location = largest + Math.log(total / n) / k;
  // sum(e^(k (y - location))) is n, and sum(y) is 0.
  return {
    location: mean + spread * location,
    scale: spread / k,
    logLikelihood: n * (Math.log(k / spread) - k * location - 1),
  };
}

/** Standard deviations of many values begin where a thousand of them, spread over all, end: it saves half of the steps. */
function startOf(values: ArrayLike<number>): number {
  const byMoments = Math.PI / Math.sqrt(6);
  if (values.length < 4 * THINNED) return byMoments;
  const step = Math.floor(values.length / THINNED);
  const few = Float64Array.from({ length: THINNED }, (_, i) => values[i * step] ?? 0);
  const fitted = fitSmallest(few);
  const { squares, n } = sampleOf(values);
  return fitted ? Math.sqrt(squares / n) / fitted.scale : byMoments;
}

const THINNED = 1000;
