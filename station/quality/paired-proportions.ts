import { normalQuantile } from "../../limits/normal.ts";
import { binomialAtMost } from "./exact-interval.ts";

/** Of the same units by two judgements: how many became good, and how many became bad. */
export interface PairedChange {
  readonly pairs: number;
  readonly toGood: number;
  readonly toBad: number;
}

/**
 * Exact two-sided test of whether as many would change one way as the other: given how many change, each way is as likely as the
 * other, and twice the smaller tail says how probable a split at least this uneven is.
 * @returns p; 1 where nothing changes
 * @see McNemar, Psychometrika 12 (1947) 153-157; exact, by the binomial distribution with 1/2
 * @example mcnemarExact({ pairs: 50, toGood: 1, toBad: 7 }) // 0.0703125
 */
export function mcnemarExact({ toGood, toBad }: PairedChange): number {
  return Math.min(1, 2 * binomialAtMost(Math.min(toGood, toBad), toGood + toBad, 0.5));
}

/**
 * Interval of the difference of two proportions of the same units, after less before.
 * @see Bonett and Price, Journal of Educational and Behavioral Statistics 37 (2012) 479-488: Wald's interval with one pair added
 *   to each of the two counts that change (from memory)
 * @example pairedDifference({ pairs: 100, toGood: 5, toBad: 15 }) // difference -0.1, lower -0.1861, upper -0.0099
 */
export function pairedDifference(
  { pairs, toGood, toBad }: PairedChange,
  confidence = 0.95,
): { readonly difference: number; readonly lower: number; readonly upper: number } {
  const good = (toGood + 1) / (pairs + 2);
  const bad = (toBad + 1) / (pairs + 2);
  const middle = good - bad;
  const half = normalQuantile((1 + confidence) / 2) * Math.sqrt((good + bad - middle * middle) / (pairs + 2));
  return {
    difference: (toGood - toBad) / pairs,
    lower: Math.max(-1, middle - half),
    upper: Math.min(1, middle + half),
  };
}
