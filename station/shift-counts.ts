import type { Clock } from "../drivers/ports.ts";
import { type Doubts, NO_DOUBTS } from "./records/doubts.ts";
import type { AttemptSummary } from "./records/index-db.ts";
import { summaryOf } from "./records/indexed-attempt.ts";
import type { StationEvent } from "./records/station-event.ts";
import type { Recorded } from "./records/store.ts";
import { shiftAt } from "./shift-times.ts";
import type { StationFile } from "./station-file.ts";
import { type DayCount, dayCount } from "./yield/day-count.ts";
import { type ShiftSummary, shiftSummary } from "./yield/shift-summary.ts";

export interface CountedRecords {
  attemptsSince(at_ms: number): Promise<readonly AttemptSummary[]>;
  eventsSince(at_ms: number): Promise<readonly StationEvent[]>;
  inDoubt(): Promise<Doubts>;
}

export interface ShiftCountsParts {
  readonly file: Pick<StationFile, "shifts" | "referenceCheck">;
  readonly clock: Pick<Clock, "wall_ms">;
  readonly store: CountedRecords;
}

/** What the day came to, kept in memory so that a screen may ask ten times a second; and the shift's summary, read afresh. */
export class ShiftCounts {
  readonly #parts: ShiftCountsParts;
  #attempts: AttemptSummary[] = [];
  /** Begin of the day they are of. */
  #day_ms = Number.NEGATIVE_INFINITY;
  #doubts: Doubts = NO_DOUBTS;
  #counted: { readonly day_ms: number; readonly count: DayCount } | null = null;

  constructor(parts: ShiftCountsParts) {
    this.#parts = parts;
  }

  /** Reads what today has come to so far. @throws RecordError */
  async load(): Promise<void> {
    const { store, clock } = this.#parts;
    this.#attempts = [...(await store.attemptsSince(beginOfDay(clock.wall_ms())))];
    await this.readDoubts();
  }

  /** After holds and releases, which other programs make too. @throws RecordError */
  async readDoubts(): Promise<void> {
    const doubts = await this.#parts.store.inDoubt();
    if (doubts === this.#doubts) return;
    this.#doubts = doubts;
    this.#counted = null;
  }

  add({ traveller, sha256, path }: Recorded): AttemptSummary {
    const summary = summaryOf(traveller, sha256, path);
    this.#keepOnly(beginOfDay(this.#parts.clock.wall_ms()));
    if (isOf(this.#day_ms, summary)) this.#attempts.push(summary);
    this.#counted = null;
    return summary;
  }

  /** Of the plant's calendar day. */
  dayCount(): DayCount {
    const day_ms = beginOfDay(this.#parts.clock.wall_ms());
    if (this.#counted?.day_ms === day_ms) return this.#counted.count;
    this.#keepOnly(day_ms);
    const count = dayCount(this.#attempts, this.#doubts);
    this.#counted = { day_ms, count };
    return count;
  }

  /** Where nobody asks for the count, too: a station may run for months without a screen. */
  #keepOnly(day_ms: number): void {
    if (day_ms === this.#day_ms) return;
    this.#day_ms = day_ms;
    this.#attempts = this.#attempts.filter((attempt) => isOf(day_ms, attempt));
  }

  /** From the begin of the present shift, else of the calendar day, up to now. @throws RecordError */
  async summary(): Promise<ShiftSummary> {
    const { file, clock, store } = this.#parts;
    const now_ms = clock.wall_ms();
    const from_ms = file.shifts.length > 0 ? shiftAt(file.shifts, now_ms).from_ms : beginOfDay(now_ms);
    // A test that has ended this very millisecond belongs to it.
    const to_ms = now_ms + 1;
    await this.readDoubts();
    const attempts = await store.attemptsSince(from_ms);
    // Whoever takes over signs in before the shift begins.
    const events = await store.eventsSince(from_ms - DAY_MS);
    const references = file.referenceCheck?.pieces ?? [];
    return shiftSummary({ attempts, events, inDoubt: this.#doubts, from_ms, to_ms, references });
  }
}

const DAY_MS = 24 * 3600 * 1000;

function beginOfDay(wall_ms: number): number {
  return new Date(wall_ms).setHours(0, 0, 0, 0);
}

/** Whether it ended on the day that began then, or later: a clock may have been put back. */
function isOf(day_ms: number, { ended_at, started_at }: AttemptSummary): boolean {
  return Date.parse(ended_at ?? started_at) >= day_ms;
}
