import type { StoredForm } from "../records/stored-values.ts";
import type { Rejudged } from "./rejudge.ts";

/** A recorded attempt of a unit and what other limits say of it. */
export interface JudgedAttempt {
  readonly form: StoredForm;
  readonly attempt: number;
  readonly started_at: string;
  readonly parts: string;
  /** What a hold has taken the trust from, and nobody has released. */
  readonly isHeld: boolean;
  readonly after: Rejudged;
  /** Why the verdict is what it is now, for a list; null where it is the recorded one. */
  readonly because: string | null;
}

/** What a unit was and would be: by its first inspection, and by its newest valid test. */
export interface JudgedUnit {
  readonly serial: string;
  /** Null where none of these attempts was the unit's first inspection. */
  readonly first: JudgedAttempt | null;
  /** Null where no attempt is valid and trusted. */
  readonly last: JudgedAttempt | null;
}

/**
 * As the day's count does: the first inspection is the first valid attempt that can be trusted, unless the unit was inspected
 * before these attempts, and what came back from rework is never one.
 * @param attempts of one unit, in their order
 */
function judgedUnit(serial: string, attempts: readonly JudgedAttempt[]): JudgedUnit {
  const valid = attempts.filter(({ form }) => form.verdict !== "void");
  const trusted = valid.filter(({ isHeld }) => !isHeld);
  const first = trusted[0];
  const isFirst = first && (first.form.kind === "first" || valid[0]?.isHeld === true);
  return { serial, first: isFirst ? first : null, last: trusted.at(-1) ?? null };
}

/** Puts a unit's attempts together as they come, and lets go of a unit as soon as nothing more can come. */
export class UnitsInProgress {
  readonly #waiting = new Map<string, JudgedAttempt[]>();

  /** @returns the unit, once its last attempt has come; null before */
  add(serial: string, attempt: JudgedAttempt, goesOn: boolean): JudgedUnit | null {
    const before = this.#waiting.get(serial);
    if (!before && !goesOn) return judgedUnit(serial, [attempt]);
    const attempts = before ?? [];
    attempts.push(attempt);
    if (goesOn) {
      if (!before) this.#waiting.set(serial, attempts);
      return null;
    }
    this.#waiting.delete(serial);
    return judgedUnit(serial, attempts);
  }

  /** @returns the unit where it waits for its last attempt, which is no part of it; null where nothing waits */
  end(serial: string): JudgedUnit | null {
    const attempts = this.#waiting.get(serial);
    this.#waiting.delete(serial);
    return attempts ? judgedUnit(serial, attempts) : null;
  }

  /** @returns those of which more was recorded than was asked for */
  *rest(): Generator<JudgedUnit, void, void> {
    for (const [serial, attempts] of this.#waiting) yield judgedUnit(serial, attempts);
    this.#waiting.clear();
  }
}
