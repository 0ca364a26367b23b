import gammaCdf from "@stdlib/stats-base-dists-gamma-cdf";
import gammaQuantile from "@stdlib/stats-base-dists-gamma-quantile";
import type { SeededRandom } from "../seeded-random.ts";
import type { Distribution, Family, Fit } from "./distribution.ts";
import { digamma, logGamma, trigamma } from "./gamma-function.ts";

/** Beyond it a gamma distribution is a normal one to the eye, and the library's numbers get rough. */
const LARGEST_SHAPE = 1000;
/** Below it nearly all is at zero. */
const SMALLEST_SHAPE = 0.02;

/** The gamma distribution, from zero. */
export const GAMMA: Family = {
  name: "gamma",
  words: "gamma",
  parameters: 2,
  positiveOnly: true,
  /**
   * Maximum likelihood: shape k from ln k - digamma(k) = ln(mean) - mean(ln), scale = mean / k.
   * @see Minka, Estimating a Gamma distribution (2002), for the start (from memory)
   */
  fit(values): Fit | null {
    const n = values.length;
    let sum = 0;
    let logs = 0;
    for (let i = 0; i < n; i++) {
      sum += values[i] ?? 0;
      logs += Math.log(values[i] ?? 0);
    }
    const mean = sum / n;
    const gap = Math.log(mean) - logs / n;
    if (!(gap > 1 / (2 * LARGEST_SHAPE))) return null;
    let shape = (3 - gap + Math.sqrt((gap - 3) ** 2 + 24 * gap)) / (12 * gap);
    for (let step = 0; step < 50; step++) {
      const change = (Math.log(shape) - digamma(shape) - gap) / (1 / shape - trigamma(shape));
      shape = change < shape ? shape - change : shape / 2;
      if (Math.abs(change) < 1e-13 * shape) break;
    }
    if (!(shape >= SMALLEST_SHAPE)) return null;
    const scale = mean / shape;
    const logLikelihood =
      (shape - 1) * logs - (n * mean) / scale - n * (shape * Math.log(scale) + logGamma(shape));
    return { distribution: gamma(shape, scale), logLikelihood };
  },
};

function gamma(shape: number, scale: number): Distribution {
  const constant = logGamma(shape);
  const cdf = gammaCdf.factory(shape, 1);
  return {
    family: "gamma",
    parameters: { shape, scale },
    cdf: (x) => (x > 0 ? cdf(x / scale) : 0),
    tail: (x) => (x > 0 ? Math.max(0, 1 - cdf(x / scale)) : 1),
    density: (x) => (x > 0 ? Math.exp((shape - 1) * Math.log(x / scale) - x / scale - constant) / scale : 0),
    quantile: (p) => scale * gammaQuantile(p, shape, 1),
    draw: (random) => scale * drawGamma(shape, random),
  };
}

/** @see Marsaglia and Tsang, ACM Transactions on Mathematical Software 26 (2000) 363-372 */
function drawGamma(shape: number, random: SeededRandom): number {
  if (shape < 1) return drawGamma(shape + 1, random) * random.uniform() ** (1 / shape);
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const x = random.normal();
    const v = (1 + c * x) ** 3;
    if (v > 0 && Math.log(random.uniform()) < 0.5 * x * x + d * (1 - v + Math.log(v))) return d * v;
  }
}
