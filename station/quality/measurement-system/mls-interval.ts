import chisquareQuantile from "@stdlib/stats-base-dists-chisquare-quantile";
import fQuantile from "@stdlib/stats-base-dists-f-quantile";

/** A mean square and its degrees of freedom. */
export interface MeanSquare {
  readonly meanSquare: number;
  readonly degrees: number;
}

export interface Interval {
  readonly lower: number;
  readonly upper: number;
}

/** Limits of sums and differences of independent mean squares. */
export interface MlsLimits<Term extends string> {
  /** Two-sided interval of the sum of the expected mean squares, each times its number; may be negative. */
  interval(combination: Readonly<Partial<Record<Term, number>>>): Interval;
  /**
   * Two-sided interval of above / below: the ratios for which the interval of above - ratio x below has zero in it.
   * @param below a sum without differences
   * @returns null where below is zero
   */
  ratio(
    above: Readonly<Partial<Record<Term, number>>>,
    below: Readonly<Partial<Record<Term, number>>>,
  ): Interval | null;
}

/**
 * Modified large-sample (MLS) limits of components of variance. For one mean square they are the exact chi-squared ones, for
 * a sum those of Graybill and Wang, with differences those of Ting et al. without the cross terms of mean squares that have
 * the same sign.
 * @see Burdick, Borror and Montgomery, Journal of Quality Technology 35 (2003) 342-354; Ting, Burdick, Graybill, Jeyaratnam
 * and Lu, Journal of Statistical Computation and Simulation 35 (1990) 135-143 (both from memory; coverage is held to by
 * simulation)
 * @example
 * mlsLimits({ repeatability: { meanSquare: 2, degrees: 10 } }, 0.95).interval({ repeatability: 1 }) // { 0.9764, 6.159 }
 */
export function mlsLimits<Term extends string>(
  meanSquares: Readonly<Partial<Record<Term, MeanSquare>>>,
  confidence: number,
): MlsLimits<Term> {
  const tail = (1 - confidence) / 2;
  const one = new Map<number, { readonly G: number; readonly H: number }>();
  const factorsOf = (degrees: number) => {
    const known = one.get(degrees);
    if (known) return known;
    const G = 1 - degrees / chisquareQuantile(1 - tail, degrees);
    const H = degrees / chisquareQuantile(tail, degrees) - 1;
    one.set(degrees, { G, H });
    return { G, H };
  };
  const two = new Map<string, { readonly lower: number; readonly upper: number }>();
  const pairFactors = (added: number, taken: number) => {
    const key = `${added} ${taken}`;
    const known = two.get(key);
    if (known) return known;
    const [a, t] = [factorsOf(added), factorsOf(taken)];
    const high = fQuantile(1 - tail, added, taken);
    const low = fQuantile(tail, added, taken);
    const factors = {
      lower: ((high - 1) ** 2 - (a.G * high) ** 2 - t.H ** 2) / high,
      upper: ((1 - low) ** 2 - (a.H * low) ** 2 - t.G ** 2) / low,
    };
    two.set(key, factors);
    return factors;
  };

  const interval: MlsLimits<Term>["interval"] = (combination) => {
    const terms = (Object.keys(meanSquares) as Term[]).flatMap((term) => {
      const square = meanSquares[term];
      const part = square ? (combination[term] ?? 0) * square.meanSquare : 0;
      return square && part !== 0 ? [{ part, degrees: square.degrees }] : [];
    });
    let [sum, below, above] = [0, 0, 0];
    for (const { part, degrees } of terms) {
      const { G, H } = factorsOf(degrees);
      sum += part;
      below += (part * (part > 0 ? G : H)) ** 2;
      above += (part * (part > 0 ? H : G)) ** 2;
    }
    for (const added of terms.filter(({ part }) => part > 0)) {
      for (const taken of terms.filter(({ part }) => part < 0)) {
        const { lower, upper } = pairFactors(added.degrees, taken.degrees);
        below -= lower * added.part * taken.part;
        above -= upper * added.part * taken.part;
      }
    }
    return { lower: sum - Math.sqrt(Math.max(0, below)), upper: sum + Math.sqrt(Math.max(0, above)) };
  };

  const ratio: MlsLimits<Term>["ratio"] = (above, below) => {
    if (!(interval(below).lower > 0)) return null;
    const at = (value: number) => {
      const difference: Partial<Record<Term, number>> = {};
      for (const term of Object.keys(meanSquares) as Term[])
        difference[term] = (above[term] ?? 0) - value * (below[term] ?? 0);
      return interval(difference);
    };
    return {
      lower: lastAboveZero((value) => at(value).lower),
      upper: lastAboveZero((value) => at(value).upper),
    };
  };
  return { interval, ratio };
}

/** Where a falling function of a ratio comes down to zero; 0 where it never was above. */
function lastAboveZero(falling: (ratio: number) => number): number {
  if (!(falling(0) > 0)) return 0;
  let high = 1;
  while (falling(high) > 0 && high < 1e30) high *= 4;
  let low = 0;
  for (let k = 0; k < 200 && high - low > 1e-13 * high; k++) {
    const middle = (low + high) / 2;
    if (falling(middle) > 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
