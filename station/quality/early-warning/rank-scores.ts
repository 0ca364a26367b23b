import { normalQuantile } from "../../../limits/normal.ts";
import { SortedValues } from "./sorted-values.ts";

/**
 * The newest values are not compared with yet, or a drift would soon be compared with itself. Each combination of cavities holds as
 * many back: of sixteen, twelve each would be the first two hundred units.
 */
const LAG = 4;
/** Quartiles of fewer tell little. */
const FENCED = 12;
const OUTER_FENCE = 3;

/**
 * Normal scores of sequential ranks: each value's rank among itself and those before it, put on the scale of standard normal
 * deviates. As long as nothing changes, scores are independent and the same for every distribution, skewed or with outliers as it may
 * be: a chart of them needs no known mean or standard deviation, and one wild value counts no more than the largest that is usual.
 * @see D. McDonald, A CUSUM procedure based on sequential ranks, Naval Research Logistics 37 (1990) 627-646 (from memory); normal
 * scores of ranks, (rank - 1/2) / n: Hajek, Sidak and Sen, Theory of Rank Tests (from memory)
 */
export class RankScores {
  readonly #known = new SortedValues();
  /** Not compared with yet, oldest first. */
  readonly #newest: number[] = [];
  /** Of the newest value: above (1) or below (-1) all that is usual, by far. */
  #farOut = 0;

  /** Values that others are compared with. */
  get count(): number {
    return this.#known.count;
  }

  /**
   * @returns the score of one more value, which is not kept; ties share their ranks
   * @example with 1, 2 and 3 kept, scoreOf(2.5) // rank 3 of 4: normalQuantile(0.625) = 0.319
   */
  scoreOf(value: number): number {
    const below = this.#known.firstNotBelow(value);
    const upTo = this.#known.at(below) === value ? this.#known.firstAbove(value) : below;
    const rank = (below + upTo) / 2 + 1;
    return normalScore((rank - 0.5) / (this.#known.count + 1));
  }

  /**
   * Whether a value is far out and the one before was not: a defect of one unit or a reading gone wrong, and no sign of a drift. The
   * next one counts, if it is far out to the same side: two in a row are seldom chance.
   * @see J. W. Tukey, Exploratory Data Analysis (1977): far out is beyond the outer fences, three interquartile ranges from the
   * quartiles (from memory)
   * @example of values from 9 to 11, quartiles 9.5 and 10.5: 14 is alone, and so is 6; another 14 after it no longer is
   */
  isAlone(value: number): boolean {
    const count = this.#known.count;
    if (count < FENCED) return false;
    const lower = this.#known.at(count >>> 2);
    const upper = this.#known.at((3 * count) >>> 2);
    const reach = OUTER_FENCE * (upper - lower);
    const before = this.#farOut;
    this.#farOut = value > upper + reach ? 1 : value < lower - reach ? -1 : 0;
    return this.#farOut !== 0 && this.#farOut !== before;
  }

  keep(value: number): void {
    this.#newest.push(value);
    if (this.#newest.length <= LAG) return;
    this.#known.add(this.#newest.shift() ?? value);
  }

  /** Forgets one such value, the newest, where there is one. */
  forget(value: number): void {
    const newest = this.#newest.lastIndexOf(value);
    if (newest >= 0) this.#newest.splice(newest, 1);
    else this.#known.remove(value);
  }
}

/** Asked for some ten thousand times to look at a day. */
const STEPS = 16384;
let known: Float64Array | undefined;

function normalScore(probability: number): number {
  known ??= new Float64Array(STEPS + 1).fill(Number.NaN);
  const at = probability * STEPS;
  const below = Math.floor(at);
  // Straight lines between so many steps are out by less than 0.001 where ranks can be.
  if (below < 8 || below >= STEPS - 8) return normalQuantile(probability);
  const low = kept(known, below);
  return low + (kept(known, below + 1) - low) * (at - below);
}

function kept(scores: Float64Array, step: number): number {
  const it = scores[step] ?? Number.NaN;
  if (!Number.isNaN(it)) return it;
  const score = normalQuantile(step / STEPS);
  scores[step] = score;
  return score;
}
