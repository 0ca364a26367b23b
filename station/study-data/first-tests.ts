import type { HeldUnit } from "../records/doubts.ts";
import type { Traveller } from "../records/traveller.ts";

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
    this.#held = new Set(held.keys());
    for (const { serial } of held.values()) this.#worthless.set(serial, 0);
  }

  isHeld(sha256: string): boolean {
    return this.#held.has(sha256);
  }

  isFirst({ serial, attempt, verdict, draft }: Traveller, sha256: string): boolean {
    const before = this.#worthless.get(serial);
    if (before === undefined) return attempt.kind === "first" && verdict !== "void";
    const isNext = attempt.number === before + 1;
    if (draft || verdict === "void" || this.#held.has(sha256)) {
      if (isNext) this.#worthless.set(serial, attempt.number);
      return draft && attempt.kind === "first" && verdict !== "void";
    }
    return attempt.kind === "first" || isNext;
  }
}
