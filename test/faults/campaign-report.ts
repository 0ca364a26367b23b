import { addTally, emptyTally, failedText, riskOf, summaryText, type Tally } from "./tally.ts";

/** Failed seeds are printed in full up to so many; of more, their first line. */
const PRINTED = 20;
/** Shifts between two words of progress. */
const PROGRESS_EVERY = 500;

/**
 * Tells of a campaign while it runs: a seed that failed at once on standard output, how far it has come on standard error. One
 * that is broken off with Ctrl-C still tells what it came to.
 */
export class CampaignReport {
  readonly #seeds: number;
  readonly #tally = emptyTally();
  readonly #start_ms = performance.now();
  readonly #brokenOff = () => {
    process.stdout.write(this.#summary());
    process.exit(130);
  };

  /** @param seeds how many are to be run */
  constructor(seeds: number) {
    this.#seeds = seeds;
    process.once("SIGINT", this.#brokenOff);
  }

  /** Whether no seed has failed so far, and units beyond a limit pass no oftener than stated. */
  get isGood(): boolean {
    return this.#tally.failed.length === 0 && riskOf(this.#tally).isKept;
  }

  add(shifts: Tally): void {
    const printed = this.#tally.failed.length;
    addTally(this.#tally, shifts);
    for (const [k, failed] of shifts.failed.entries()) {
      const text = failedText(failed);
      process.stdout.write(printed + k < PRINTED ? text : text.slice(0, text.indexOf("\n") + 1));
    }
    const { seeds, failed } = this.#tally;
    if (seeds % PROGRESS_EVERY === 0 && seeds < this.#seeds) {
      process.stderr.write(`${seeds} of ${this.#seeds} shifts, ${failed.length} failed\n`);
    }
  }

  end(): void {
    process.off("SIGINT", this.#brokenOff);
    process.stdout.write(this.#summary());
  }

  #summary(): string {
    return summaryText(this.#tally, (performance.now() - this.#start_ms) / 1000);
  }
}
