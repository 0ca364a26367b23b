import type { Reason } from "./cycle/reason.ts";
import { type SameFail, sameFail, type UnitAttempt } from "./cycle/same-fail.ts";
import type { AttemptSummary } from "./records/index-db.ts";
import type { StationEvent } from "./records/station-event.ts";

/** Where the watch finds what happened before the program was started. */
export interface SameFailRecords {
  /** Newest attempt of each of the units tested last, newest first. */
  lastUnits(count: number): Promise<readonly AttemptSummary[]>;
  eventsSince(at_ms: number): Promise<readonly StationEvent[]>;
}

/** Voids are passed over; so many more units are looked at than have to fail. */
const LOOKED_AT_OF_ONE = 4;
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
    const last = await records.lastUnits(this.#stopAfter * LOOKED_AT_OF_ONE);
    const oldest_ms = Math.min(...last.map(endOf));
    if (last.length === 0) return false;
    const events = (await records.eventsSince(oldest_ms)).filter(isOfSameFails);
    const acknowledged = events.findLast(({ event }) => event === "acknowledged");
    const from_ms = acknowledged ? Date.parse(acknowledged.at) : Number.NEGATIVE_INFINITY;
    this.#attempts = last.filter((attempt) => endOf(attempt) > from_ms);
    return events.at(-1)?.event === "fault";
  }

  tested(attempt: UnitAttempt): void {
    if (this.#stopAfter === null) return;
    this.#attempts = [attempt, ...this.#attempts].slice(0, this.#stopAfter * LOOKED_AT_OF_ONE);
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

function endOf({ ended_at, started_at }: AttemptSummary): number {
  return Date.parse(ended_at ?? started_at);
}
