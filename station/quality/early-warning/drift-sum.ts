/** k: half of the shift that matters, in standard deviations. */
export const ALLOWANCE = 0.5;
/**
 * h: so low that a shift of one standard deviation is signalled within 15 units on the simulated population, where what is usual is
 * itself an estimate (README, "Early warning"; `npm run bench -- early-warning`). Of known standard normal deviates one chart gives a
 * false alarm in about 2,100 units: Brook and Evans's Markov chain, `control-chart/run-length.ts`. All charts of a model together give
 * one in 190; 7.7 would give one in 670, and signal some three units later. An EWMA with as few false alarms is no sooner, and says less of when a shift began.
 */
export const DECISION = 6.5;
/** Sums go no higher than this above h, so that a process that is back is seen to be. */
const ROOM_ABOVE = 2;

/**
 * Both sums of a tabular CUSUM of standardised values: what exceeds the allowance, upwards and downwards, never below zero.
 * @see D. C. Montgomery, Introduction to Statistical Quality Control, the tabular CUSUM; `control-chart/cusum.ts` draws one
 */
export class DriftSum {
  readonly #sums = { rises: 0, falls: 0 };
  /** Number of the value at which each sum left zero. */
  readonly #since = { rises: 0, falls: 0 };

  /**
   * @param score in standard deviations from where it stood
   * @param at the value's number, by which `since` names it
   * @returns the direction in which a sum is above the decision interval; null for neither
   */
  add(score: number, at: number): "rises" | "falls" | null {
    this.#step("rises", score, at);
    this.#step("falls", -score, at);
    if (this.#sums.rises > DECISION) return "rises";
    return this.#sums.falls > DECISION ? "falls" : null;
  }

  sumOf(direction: "rises" | "falls"): number {
    return this.#sums[direction];
  }

  /** @returns the number of the value at which that sum last left zero: where a shift began, as far as can be told */
  sinceOf(direction: "rises" | "falls"): number {
    return this.#since[direction];
  }

  reset(): void {
    this.#sums.rises = 0;
    this.#sums.falls = 0;
  }

  #step(direction: "rises" | "falls", excess: number, at: number): void {
    const before = this.#sums[direction];
    const sum = Math.min(Math.max(0, before + excess - ALLOWANCE), DECISION + ROOM_ABOVE);
    if (before === 0 && sum > 0) this.#since[direction] = at;
    this.#sums[direction] = sum;
  }
}
