import { UsageError } from "../explain.ts";
import { beginOfDay } from "../yield/time-ranges.ts";
import type { YieldGrouping } from "../yield/yield-report.ts";

/** What a yield is asked of. Days and shifts are the computer's local ones, which a station file's zone decides. */
export interface YieldQuery {
  /** The records folder. */
  readonly folder: string;
  /** First and last local day, "2026-01-05"; null: from the first record, up to the last. */
  readonly from: string | null;
  readonly to: string | null;
  readonly by: readonly YieldGrouping[];
  /** Only this one. */
  readonly model?: string | undefined;
  readonly station?: string | undefined;
  /** Begins of shifts, local times such as "06:00", ascending; empty where nobody said. */
  readonly shifts: readonly string[];
  /** Whether every unit is listed; no more than `UNITS_LISTED_MOST` are. */
  readonly listsUnits?: boolean | undefined;
  /** Wall time at which the report is made; now unless said otherwise. */
  readonly now_ms?: number | undefined;
}

/** A list of more units is refused: it would be kept in memory as a whole. */
export const UNITS_LISTED_MOST = 100_000;

/** From a moment up to another; null where the records' own ends decide. */
export interface AskedTime {
  readonly from_ms: number | null;
  readonly to_ms: number | null;
}

/** @throws UsageError for a day that there is not, days in the wrong order, or shifts that nobody has named */
export function askedTime({ from, to, by, shifts }: YieldQuery): AskedTime {
  const from_ms = from === null ? null : momentOf(from, 0);
  const to_ms = to === null ? null : momentOf(to, 1);
  if (from !== null && to !== null && from > to) {
    throw new UsageError(`The first day, ${from}, comes after the last, ${to}: give the earlier one first.`);
  }
  if (by.includes("shift") && shifts.length === 0) {
    throw new UsageError(
      "Nobody has said when shifts begin: give the station file, whose shifts say it, with --station FILE.",
    );
  }
  return { from_ms, to_ms };
}

function momentOf(day: string, days: number): number {
  const at_ms = /^\d{4}-\d{2}-\d{2}$/.test(day) ? beginOfDay(day, days) : Number.NaN;
  if (Number.isNaN(at_ms))
    throw new UsageError(`"${day}" is no day of the calendar: give one like 2026-01-31.`);
  return at_ms;
}
