import type { Reason } from "./cycle/reason.ts";
import { type SameFail, sameFail, type UnitAttempt } from "./cycle/same-fail.ts";
import type { AttemptSummary } from "./records/index-db.ts";
import type { StationEvent } from "./records/station-event.ts";

/** Where the watch finds what happened before the program was started. */
export interface SameFailRecords {
  /** Newest valid attempt of each of the units tested last, newest first. */
  lastUnits(count: number): Promise<readonly AttemptSummary[]>;
  /** What happened once the traveller with this number was recorded, in that order. */
  eventsAfter(sequence: number): Promise<readonly StationEvent[]>;
}

/** A row may have grown before the stop was acknowledged or the number was changed: so many times its length are kept. */
const KEPT_OF_ONE = 4;
/** Serials named in the sentence; a row grows no longer while the station stands still. */
const NAMED = 6;

/** Counts the units in a row that fail alike, from the last such stop that somebody has acknowledged; a restart changes nothing. */
export class SameFailWatch {
  /** Null: the station never stops for it. */
  readonly #stopAfter: number | null;
  /** Newest first. */
  #attempts: readonly UnitAttempt[] = [];

  constructor(stopAfter: number | null) {
    this.#stopAfter = stopAfter;
  }

  /** @returns whether the stop that the records ask for has been noted as a fault already */
  async load(records: SameFailRecords): Promise<boolean> {
    if (this.#stopAfter === null) return false;
    const last = await records.lastUnits(this.#stopAfter * KEPT_OF_ONE);
    if (last.length === 0) return false;
    const oldest = Math.min(...last.map(({ sequence }) => sequence));
    const events = (await records.eventsAfter(oldest)).filter(isOfSameFails);
    // Noted once the station had recovered; where that failed it stands still, and nobody has answered for anything.
    const acknowledged = events.findLast(({ event }) => event === "acknowledged");
    this.#attempts = last.filter(({ sequence }) => sequence > (acknowledged?.after_traveller ?? 0));
    return events.at(-1)?.event === "fault";
  }

  /** Voids and drafts are passed over, and of a unit tested again only the newest is kept, as the records tell it. */
  tested(attempt: UnitAttempt): void {
    if (this.#stopAfter === null || attempt.draft || attempt.verdict === "void") return;
    const others = this.#attempts.filter(({ serial }) => serial !== attempt.serial);
    this.#attempts = [attempt, ...others].slice(0, this.#stopAfter * KEPT_OF_ONE);
  }

  /** Somebody has looked: counting starts anew. */
  acknowledged(): void {
    this.#attempts = [];
  }

  /** @returns why the station must stop; null while it need not */
  reason(): Reason | null {
    const found = this.#stopAfter === null ? null : sameFail(this.#attempts, this.#stopAfter);
    return found && { code: "SAME_FAIL_IN_A_ROW", sentence: sentenceOf(found) };
  }
}

function sentenceOf({ cause, serials }: SameFail): string {
  const named = serials.slice(-NAMED).join(", ");
  const units = serials.length > NAMED ? `the last of them ${named}` : named;
  return `${serials.length} units in a row failed ${cause} (${units}). Keep them apart and call the engineer: the fixture, a gauge or a mould may be at fault. Once that is found and mended, acknowledge.`;
}

function isOfSameFails({ event, reasons }: StationEvent): boolean {
  const isMeant = event === "fault" || event === "acknowledged";
  return isMeant && (reasons ?? []).some(({ code }) => code === "SAME_FAIL_IN_A_ROW");
}
