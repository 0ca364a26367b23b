import type { Doubts } from "../records/doubts.ts";
import type { AttemptSummary } from "../records/index-db.ts";
import type { StationEvent } from "../records/station-event.ts";
import type { DayCount } from "./day-count.ts";

export interface ShiftRecords {
  /** Of the time, references included; more do no harm. */
  readonly attempts: readonly AttemptSummary[];
  readonly events: readonly StationEvent[];
  readonly inDoubt: Doubts;
  readonly from_ms: number;
  readonly to_ms: number;
  /** The station's reference pieces, so that one that was never checked is told. */
  readonly references: readonly { readonly serial: string; readonly model: string }[];
}

/** What a shift hands over. */
export interface ShiftSummary {
  readonly from_ms: number;
  readonly to_ms: number;
  readonly count: DayCount;
  /** By code, most frequent first, with the newest one's sentence. */
  readonly faults: readonly {
    readonly code: string;
    readonly sentence: string;
    readonly count: number;
    readonly last: string;
  }[];
  /** Each piece with its newest valid check of the time; null where there was none. */
  readonly references: readonly {
    readonly serial: string;
    readonly model: string;
    readonly checks: number;
    readonly failed: number;
    readonly newest: AttemptSummary | null;
  }[];
  /** Who was signed in, in order; `to` null: still. */
  readonly people: readonly { readonly name: string; readonly from: string; readonly to: string | null }[];
}

export function shiftSummary(_records: ShiftRecords): ShiftSummary {
  throw new Error("Being written.");
}

/** @param width of the longest line, characters */
export function shiftSummaryLines(_summary: ShiftSummary, _width: number): string[] {
  throw new Error("Being written.");
}
