import type { TimeRange } from "../yield/time-ranges.ts";

/** A part of a range, that no question spans more than. */
export interface Piece {
  /** Place of its range among those that were given. */
  readonly range: number;
  readonly from: string;
  /** ISO 8601 UTC, as `from`; the first moment after it. */
  readonly until: string;
}

type Span = Pick<TimeRange, "from_ms" | "to_ms">;

/**
 * What SQLite groups it sorts first, and keeps all of it in memory: of a week's records that is little, of a million it is a hundred
 * megabytes, and takes twice the time.
 */
const TOGETHER_MS = 7 * 86_400_000;

/**
 * Times in pieces, and pieces together, such that what is asked of together is never more than a week.
 * @param ranges one after the other
 * @param within what lies outside of it is nobody's
 * @example [...askedPieces([{ from_ms: 0, to_ms: 10 * DAY_MS }], ALL)] // two questions, of the first seven days and of the rest
 */
export function* askedPieces(ranges: readonly Span[], within: Span): Generator<Piece[], void, void> {
  let together: Piece[] = [];
  let span_ms = 0;
  for (const [range, { from_ms, to_ms }] of ranges.entries()) {
    const end_ms = Math.min(to_ms, within.to_ms);
    for (let at_ms = Math.max(from_ms, within.from_ms); at_ms < end_ms; ) {
      const until_ms = Math.min(end_ms, at_ms + TOGETHER_MS - span_ms);
      together.push({ range, from: isoOf(at_ms), until: isoOf(until_ms) });
      span_ms += until_ms - at_ms;
      at_ms = until_ms;
      if (span_ms < TOGETHER_MS) continue;
      yield together;
      together = [];
      span_ms = 0;
    }
  }
  if (together.length > 0) yield together;
}

function isoOf(at_ms: number): string {
  return new Date(at_ms).toISOString();
}
