/** k: half of the shift that matters, in standard deviations. */
export const ALLOWANCE = 0.5;
/**
 * h of the chart of all units, and of those of cavities where there are no more than two. Of known standard normal deviates one chart
 * gives a false alarm in some 4,400 units: Brook and Evans's Markov chain, `control-chart/run-length.ts`. Set on the simulated population
 * (`npm run bench -- early-warning`; README, "Early warning"), so that a step of one standard deviation is signalled within 15 units
 * on average and all charts of a model together give one false alarm in 500 units.
 */
export const DECISION = 7.25;
/** h of the charts of more than two cavities: these help one another less, and the chart of all units is nearly as quick as they are. */
export const DECISION_OF_MANY = 7.65;
/** Scores count no more than this: what is further out is as likely a defect as a drift. */
export const MOST = 2.5;
/** Of values with a long tail, leak rates: some sound units of every batch lie near the limit. */
export const MOST_IN_TAIL = 2;
/** Sums go no higher than this above h, so that a process that is back is seen to be. */
const ROOM_ABOVE = 2;

/**
 * Both sums of a tabular CUSUM of standardised values: what exceeds the allowance, upwards and downwards, never below zero.
 * @see D. C. Montgomery, Introduction to Statistical Quality Control, the tabular CUSUM; `control-chart/cusum.ts` draws one
 */
export class DriftSum {
  #up = 0;
  #down = 0;
  /** Number of the value at which each sum left zero. */
  #upSince = 0;
  #downSince = 0;

  /**
   * @param score in standard deviations from where it stood
   * @param at the value's number, by which `since` names it
   * @param decision h
   * @returns the direction in which a sum is above the decision interval; null for neither
   */
  add(score: number, at: number, decision: number): "rises" | "falls" | null {
    const up = this.#up;
    const down = this.#down;
    this.#up = Math.min(Math.max(0, up + score - ALLOWANCE), decision + ROOM_ABOVE);
    this.#down = Math.min(Math.max(0, down - score - ALLOWANCE), decision + ROOM_ABOVE);
    if (up === 0 && this.#up > 0) this.#upSince = at;
    if (down === 0 && this.#down > 0) this.#downSince = at;
    if (this.#up > decision) return "rises";
    return this.#down > decision ? "falls" : null;
  }

  sumOf(direction: "rises" | "falls"): number {
    return direction === "rises" ? this.#up : this.#down;
  }

  /** @returns the number of the value at which that sum last left zero: where a shift began, as far as can be told */
  sinceOf(direction: "rises" | "falls"): number {
    return direction === "rises" ? this.#upSince : this.#downSince;
  }

  reset(): void {
    this.#up = 0;
    this.#down = 0;
  }
}
