import type { HeldUnit } from "../records/doubts.ts";
import type { StoredAttempt } from "../records/read-stored-values.ts";

/**
 * Says which attempts are units' first valid tests, asked of them in the order of recording. A repeat after nothing but
 * void attempts is called "first", too; a retest is one where all that came before is void or held. What lies before the days
 * that are read is not known: then it is none, so that no unit is counted twice.
 */
export class FirstTests {
  readonly #held: ReadonlySet<string>;
  /** Of units that something is held of: how many attempts in a row, from the first, prove nothing. */
  readonly #worthless = new Map<string, number>();

  /** @param held by SHA-256 of the traveller */
  constructor(held: ReadonlyMap<string, HeldUnit>) {
    this.#held = new Set([...held.values()].map(keyOf));
    for (const { serial } of held.values()) this.#worthless.set(serial, 0);
  }

  isHeld(attempt: Pick<StoredAttempt, "serial" | "attempt">): boolean {
    return this.#held.size > 0 && this.#held.has(keyOf(attempt));
  }

  isFirst(asked: StoredAttempt): boolean {
    const {
      serial,
      attempt,
      form: { kind, verdict, draft },
    } = asked;
    const before = this.#worthless.get(serial);
    if (before === undefined) return kind === "first" && verdict !== "void";
    const isNext = attempt === before + 1;
    if (draft || verdict === "void" || this.isHeld(asked)) {
      if (isNext) this.#worthless.set(serial, attempt);
      return draft && kind === "first" && verdict !== "void";
    }
    return kind === "first" || isNext;
  }
}

function keyOf({ serial, attempt }: Pick<StoredAttempt, "serial" | "attempt">): string {
  return `${attempt} ${serial}`;
}
