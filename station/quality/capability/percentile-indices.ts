import { familyOf } from "../distributions/choose.ts";
import type { Distribution } from "../distributions/distribution.ts";
import { SeededRandom } from "../seeded-random.ts";
import { type Index, type Indices, type Interval, lesser } from "./normal-indices.ts";
import type { Specification } from "./specification.ts";

/** The percentiles that stand for mean and mean +- 3 sigma: X0.135, X50 and X99.865. */
export interface Percentiles {
  readonly low: number;
  readonly median: number;
  readonly high: number;
}

/** What a normal distribution has beyond 3 sigma, as ISO 22514-2 rounds it. */
export const BEYOND = 0.00135;

const RESAMPLES = 1000;
/** Of more values only as many are drawn, and the interval is narrowed by the root of their number. */
const MOST_RESAMPLED = 500;
const SEED = 1350;

export function percentilesOf(distribution: Distribution): Percentiles {
  return {
    low: distribution.quantile(BEYOND),
    median: distribution.quantile(0.5),
    high: distribution.quantile(1 - BEYOND),
  };
}

/** The indices by themselves, without intervals; null where a limit or the spread is missing. */
interface Bare {
  readonly p: number | null;
  readonly l: number | null;
  readonly u: number | null;
}

/**
 * Pp = (U - L) / (X99.865 - X0.135), Ppu = (U - X50) / (X99.865 - X50), Ppl = (X50 - L) / (X50 - X0.135).
 * @see ISO 22514-2 and ISO 22514-4, percentile method (from memory)
 */
export function bareIndices({ low, median, high }: Percentiles, { lower, upper }: Specification): Bare {
  const over = (part: number, whole: number) => (whole > 0 ? part / whole : null);
  return {
    p: lower === undefined || upper === undefined ? null : over(upper - lower, high - low),
    l: lower === undefined ? null : over(median - lower, median - low),
    u: upper === undefined ? null : over(upper - median, high - median),
  };
}

/**
 * Indices of a fitted distribution by the percentile method. Intervals by parametric bootstrap: 1,000 sets are drawn from the
 * fitted distribution, as many values in each as were fitted (of more than 500, 500, the interval then narrowed by
 * sqrt(500 / n)), each fitted again; the same in every run. The basic interval, of logarithms while all are above zero: that
 * is exact where the ratio of an index to its true value does not depend on the parameters.
 * @param n values that were fitted
 * @returns null where no index can be formed, the percentiles being equal
 * @see Efron and Tibshirani, An Introduction to the Bootstrap (1993) (from memory)
 */
export function percentileIndices(
  distribution: Distribution,
  n: number,
  specification: Specification,
  confidence = 0.95,
): Indices | null {
  const found = bareIndices(percentilesOf(distribution), specification);
  const resampled = resample(distribution, n, specification);
  const narrowing = Math.sqrt(Math.min(1, MOST_RESAMPLED / n));
  const index = (of: keyof Bare): Index | null => {
    const value = found[of];
    if (value === null) return null;
    const drawn = resampled.flatMap((bare) => bare[of] ?? []);
    return { value, interval: basicInterval(value, drawn, narrowing, confidence) };
  };
  const [p, l, u] = [index("p"), index("l"), index("u")];
  return l === null && u === null ? null : { p, l, u, k: lesser(l, u) };
}

function resample(distribution: Distribution, n: number, specification: Specification): Bare[] {
  const random = new SeededRandom(SEED);
  const family = familyOf(distribution.family);
  const values = new Float64Array(Math.min(n, MOST_RESAMPLED));
  const found: Bare[] = [];
  for (let k = 0; k < RESAMPLES; k++) {
    for (let i = 0; i < values.length; i++) values[i] = distribution.draw(random);
    const fit = family.fit(values);
    if (fit) found.push(bareIndices(percentilesOf(fit.distribution), specification));
  }
  return found;
}

/** @returns null where too few could be fitted again */
function basicInterval(
  value: number,
  drawn: readonly number[],
  narrowing: number,
  confidence: number,
): Interval | null {
  if (drawn.length < RESAMPLES / 2) return null;
  const byRatio = value > 0 && drawn.every((it) => it > 0);
  const sorted = Float64Array.from(drawn, (it) => (byRatio ? Math.log(it / value) : it - value)).sort();
  const at = (p: number) => sorted[Math.round(p * (sorted.length - 1))] ?? 0;
  const back = (deviation: number) =>
    byRatio ? value * Math.exp(-narrowing * deviation) : value - narrowing * deviation;
  const ends: Interval = [back(at((1 + confidence) / 2)), back(at((1 - confidence) / 2))];
  return ends.every(Number.isFinite) ? ends : null;
}
