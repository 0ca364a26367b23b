import { normalQuantile } from "../../../limits/normal.ts";

/**
 * The newest values are not compared with yet, or a drift would soon be compared with itself. Each combination of cavities holds as
 * many back: of sixteen, twelve each would be the first two hundred units.
 */
const LAG = 4;

/**
 * Normal scores of sequential ranks: each value's rank among itself and those before it, put on the scale of standard normal
 * deviates. As long as nothing changes, scores are independent and the same for every distribution, skewed or with outliers as it may
 * be: a chart of them needs no known mean or standard deviation, and one wild value counts no more than the largest that is usual.
 * @see D. McDonald, A CUSUM procedure based on sequential ranks, Naval Research Logistics 37 (1990) 627-646 (from memory); normal
 * scores of ranks, (rank - 1/2) / n: Hajek, Sidak and Sen, Theory of Rank Tests (from memory)
 */
export class RankScores {
  readonly #sorted: number[] = [];
  /** Not compared with yet, oldest first. */
  readonly #newest: number[] = [];

  /** Values that others are compared with. */
  get count(): number {
    return this.#sorted.length;
  }

  /**
   * @returns the score of one more value, which is not kept; ties share their ranks
   * @example with 1, 2 and 3 kept, scoreOf(2.5) // rank 3 of 4: normalQuantile(0.625) = 0.319
   */
  scoreOf(value: number): number {
    const below = this.#firstAt(value, false);
    const upTo = this.#firstAt(value, true);
    const rank = (below + upTo) / 2 + 1;
    return normalScore((rank - 0.5) / (this.#sorted.length + 1));
  }

  keep(value: number): void {
    this.#newest.push(value);
    if (this.#newest.length <= LAG) return;
    const oldest = this.#newest.shift() ?? value;
    this.#sorted.splice(this.#firstAt(oldest, true), 0, oldest);
  }

  /** Forgets one such value, the newest, where there is one. */
  forget(value: number): void {
    const newest = this.#newest.lastIndexOf(value);
    if (newest >= 0) {
      this.#newest.splice(newest, 1);
      return;
    }
    const at = this.#firstAt(value, false);
    if (this.#sorted[at] === value) this.#sorted.splice(at, 1);
  }

  /** @returns the place of the first value that is not below, or that is above */
  #firstAt(value: number, isAbove: boolean): number {
    let [low, high] = [0, this.#sorted.length];
    while (low < high) {
      const middle = (low + high) >>> 1;
      const it = this.#sorted[middle] ?? 0;
      if (it < value || (isAbove && it === value)) low = middle + 1;
      else high = middle;
    }
    return low;
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
  const [low, high] = [kept(known, below), kept(known, below + 1)];
  return low + (high - low) * (at - below);
}

function kept(scores: Float64Array, step: number): number {
  const it = scores[step] ?? Number.NaN;
  if (!Number.isNaN(it)) return it;
  const score = normalQuantile(step / STEPS);
  scores[step] = score;
  return score;
}
