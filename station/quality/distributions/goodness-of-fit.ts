import { SeededRandom } from "../seeded-random.ts";
import type { Distribution, Family } from "./distribution.ts";

/** How well a fitted distribution describes the values it was fitted to. */
export interface GoodnessOfFit {
  /** Anderson and Darling's A squared. */
  readonly A2: number;
  /** Probability of an A squared as large, were the values from such a distribution. */
  readonly p: number;
}

const RESAMPLES = 999;
/** After so many it is looked at once whether the answer is plain: none or one as large, or more than one in five. */
const FIRST_LOOK = 199;
/** A squared of fitted distributions hardly changes its own distribution with the number of values; more would only take time. */
const MOST_RESAMPLED = 200;
const SEED = 22514;
const LEAST_PROBABILITY = 1e-300;

/**
 * Anderson and Darling's test of a distribution fitted to these very values. Where A squared stands is found by drawing from
 * the fitted distribution and fitting again, 999 times (199 where the answer is plain by then), the same in every run; for normal, lognormal, Weibull and extreme values
 * this gives the tables of Stephens (normal 0.752, Weibull and extreme value 0.757 at 5 %).
 * @param sorted ascending
 * @see D'Agostino and Stephens, Goodness-of-Fit Techniques (1986), chapter 4 (from memory); the bootstrap: Stute and others,
 * Metrika 40 (1993) 243-256 (from memory)
 */
export function andersonDarling(
  sorted: ArrayLike<number>,
  family: Family,
  distribution: Distribution,
): GoodnessOfFit {
  const A2 = aSquared(sorted, distribution);
  let asLarge = 0;
  let drawn = 0;
  const random = new SeededRandom(SEED);
  const values = new Float64Array(Math.min(sorted.length, MOST_RESAMPLED));
  for (let k = 0; k < RESAMPLES; k++) {
    for (let i = 0; i < values.length; i++) values[i] = distribution.draw(random);
    const again = family.fit(values);
    if (!again) continue;
    drawn++;
    if (aSquared(values.sort(), again.distribution) >= A2) asLarge++;
    if (drawn === FIRST_LOOK && (asLarge <= 1 || asLarge > FIRST_LOOK / 5)) break;
  }
  return { A2, p: (asLarge + 1) / (drawn + 1) };
}

/** @param sorted ascending */
export function aSquared(sorted: ArrayLike<number>, distribution: Distribution): number {
  const n = sorted.length;
  let sum = 0;
  for (let i = 0; i < n; i++) {
    const x = sorted[i] ?? 0;
    const below = Math.log(Math.max(LEAST_PROBABILITY, distribution.cdf(x)));
    const above = Math.log(Math.max(LEAST_PROBABILITY, distribution.tail(x)));
    sum += (2 * i + 1) * below + (2 * (n - i) - 1) * above;
  }
  return -n - sum / n;
}
