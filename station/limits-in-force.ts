import type { ModelCalibrations } from "./calibrations-in-force.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import type { KeptFile } from "./records/kept-files.ts";

/** What units are judged by. */
export interface Judging {
  readonly models: readonly ModelInForce[];
  readonly calibrations: ReadonlyMap<string, ModelCalibrations>;
}

/** What came of a change of the limit files. */
export interface TakenUp extends Judging {
  /** For people: a sentence for each model concerned. */
  readonly sentences: readonly string[];
  /** Files that decide from now on; null where they could not all be kept, so that what changed judges nothing. */
  readonly in_force: readonly KeptFile[] | null;
}

/** The limits that judge, while their files may be changed: taken up between units, and never in the middle of one. */
export class LimitsInForce {
  readonly #look: (now: Judging) => Promise<TakenUp | null>;
  readonly #tell: (taken: TakenUp) => void;
  #now: Judging;
  #turn: Promise<void> = Promise.resolve();

  /**
   * @param look whether the files are others than at the last look, and what judges from now on
   * @param tell told of every change, when it is in force
   */
  constructor(
    first: Judging,
    look: (now: Judging) => Promise<TakenUp | null>,
    tell: (taken: TakenUp) => void,
  ) {
    this.#now = first;
    this.#look = look;
    this.#tell = tell;
  }

  get models(): readonly ModelInForce[] {
    return this.#now.models;
  }

  get calibrations(): ReadonlyMap<string, ModelCalibrations> {
    return this.#now.calibrations;
  }

  /** Takes up what has changed; for a moment at which no unit is under test. One look after the other. */
  lookAgain(): Promise<void> {
    const turn = this.#turn.then(async () => {
      const taken = await this.#look(this.#now);
      if (!taken) return;
      this.#now = taken;
      this.#tell(taken);
    });
    this.#turn = turn.catch(() => undefined);
    return turn;
  }
}
