import { rangeCdf } from "../control-chart/range-distribution.ts";

/** Between these the distribution of the range is interpolated: by seven neighbours, to 1e-10. */
const STEP = 0.05;
const NEIGHBOURS = 8;
/** Beyond it the range of normal values is less probable than 1e-15. */
const LARGEST = 20;
/** Densities below this part of the greatest no longer count. */
const FAINT = 1e-18;

/**
 * Probability that the range of k independent normal values, in standard deviations estimated with so many degrees of freedom,
 * is at most q.
 * @param q any
 * @param k whole, from 2
 * @param df from 1; need not be whole
 * @see Copenhaver and Holland 1988 (from memory) for the form: the range's distribution, averaged over the estimate's; here by
 * the trapezoidal rule over its logarithm, which converges exponentially
 * @example studentizedRangeCdf(3.8775, 3, 10) // 0.95
 */
export function studentizedRangeCdf(q: number, k: number, df: number): number {
  if (!(q > 0)) return Number.isNaN(q) ? Number.NaN : 0;
  const range = rangeTable(k);
  const step = Math.min(0.2, 0.25 / Math.sqrt(2 * df));
  let sum = 0;
  let total = 0;
  for (const side of [1, -1]) {
    for (let i = side === 1 ? 0 : 1; ; i++) {
      const u = side * i * step;
      // u is the logarithm of estimate over true standard deviation.
      const weight = Math.exp(df * (u - (Math.exp(2 * u) - 1) / 2));
      if (weight < FAINT) break;
      total += weight;
      sum += weight * range(q * Math.exp(u));
    }
  }
  return Math.min(1, sum / total);
}

/** The q with this probability below it. @param p between 0 and 1. @example studentizedRangeQuantile(0.95, 3, 10) // 3.8775 */
export function studentizedRangeQuantile(p: number, k: number, df: number): number {
  let low = 0;
  let high = 4;
  while (studentizedRangeCdf(high, k, df) < p && high < 1e6) high *= 2;
  for (let i = 0; i < 60 && high - low > 1e-11 * high; i++) {
    const middle = (low + high) / 2;
    if (studentizedRangeCdf(middle, k, df) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

const TABLES = new Map<number, Float64Array>();

/** Distribution of the range of k normal values as a function of w, by Lagrange's interpolation. */
function rangeTable(k: number): (w: number) => number {
  let table = TABLES.get(k);
  if (!table) {
    table = Float64Array.from({ length: LARGEST / STEP + NEIGHBOURS }, (_, i) => rangeCdf(i * STEP, k));
    TABLES.set(k, table);
  }
  const values = table;
  return (w) => {
    if (w >= LARGEST - 1) return 1;
    const place = w / STEP;
    const first = Math.max(0, Math.floor(place) - NEIGHBOURS / 2 + 1);
    let sum = 0;
    for (let i = 0; i < NEIGHBOURS; i++) {
      let basis = values[first + i] ?? 1;
      for (let j = 0; j < NEIGHBOURS; j++) if (j !== i) basis *= (place - first - j) / (i - j);
      sum += basis;
    }
    return Math.max(0, sum);
  };
}
