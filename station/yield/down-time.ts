import type { DownTime } from "./yield-report.ts";

/** What down time looks at in a station's event, in the order in which they were recorded. */
export interface DownEvent {
  readonly event: string;
  /** ISO 8601, by the station's clock. */
  readonly at: string;
  readonly reasons?: readonly { readonly code: string; readonly sentence: string }[] | undefined;
}

/** From one moment up to another, which is not part of it. */
export interface TimeSpan {
  readonly from_ms: number;
  readonly until_ms: number;
}

export interface DownTimes {
  /** By fault, the longest down time first. */
  readonly downTime: readonly DownTime[];
  /** With faults that overlapped counted once. */
  readonly down_s: number;
  /** What a reader must know of the figures. */
  readonly notes: readonly string[];
}

/**
 * How long a station stood still, and by which faults. A fault lasts until somebody acknowledged it and the station recovered,
 * until it was closed, or until it was started again after it had ended without being closed. Each code's time counts
 * once, also where it came again meanwhile; faults of two codes at the same time count for each.
 * @param events from one before `span` that found the station going, or from the first there is
 * @param now_ms a fault that nobody has acknowledged lasts until now
 * @example downTimes([fault at 06:00, acknowledged at 06:10], day, now).downTime // count 1, down_s 600
 */
export function downTimes(events: readonly DownEvent[], span: TimeSpan, now_ms: number): DownTimes {
  const times: FaultTime[] = [];
  let open: FaultTime[] = [];
  const notes = new Set<string>();
  for (const { event, at, reasons } of events) {
    const at_ms = Date.parse(at);
    if (event === "fault") {
      open.push(
        ...(reasons ?? []).map(({ code, sentence }) => ({
          code,
          sentence,
          at,
          from_ms: at_ms,
          until_ms: at_ms,
        })),
      );
    } else if (ENDING.has(event)) {
      const inside = open.filter((fault) => isInside({ ...fault, until_ms: at_ms }, span));
      if (event === "opened" && inside.length > 0) notes.add(NOT_CLOSED);
      if (inside.some(({ from_ms }) => from_ms > at_ms)) notes.add(CLOCK_PUT_BACK);
      times.push(...open.map((fault) => ({ ...fault, until_ms: Math.max(fault.from_ms, at_ms) })));
      open = [];
    }
  }
  const still = open.map((fault) => ({ ...fault, until_ms: Math.max(fault.from_ms, now_ms) }));
  if (still.some((fault) => isInside(fault, span))) notes.add(STILL_DOWN);
  const met = [...times, ...still].filter((fault) => isInside(fault, span));
  const down_s = unionOf(met, span) / 1000;
  const downTime = [...new Set(met.map(({ code }) => code))].flatMap((code) => {
    const faults = met.filter((fault) => fault.code === code);
    const newest = faults.at(-1);
    if (!newest) return [];
    const { sentence, at } = newest;
    return { code, sentence, count: faults.length, down_s: unionOf(faults, span) / 1000, last_at: at };
  });
  return {
    downTime: downTime.sort((a, b) => b.down_s - a.down_s || (a.code < b.code ? -1 : 1)),
    down_s,
    notes: [...notes],
  };
}

/** After these a station stands still for no fault that came before. */
export const ENDING: ReadonlySet<string> = new Set(["acknowledged", "closed", "opened"]);

const NOT_CLOSED =
  "The station was ended in a fault without being closed: that down time is counted until it was started again.";
const CLOCK_PUT_BACK =
  "The station's clock was put back while it stood still: how long it did is not known, and is counted as nothing.";
const STILL_DOWN =
  "The last fault was not acknowledged: that down time is counted to the end of the time asked for, or until now.";

interface FaultTime extends TimeSpan {
  readonly code: string;
  readonly sentence: string;
  readonly at: string;
}

/** A fault that lasted no time is where it began. */
function isInside({ from_ms, until_ms }: TimeSpan, span: TimeSpan): boolean {
  if (from_ms >= span.until_ms) return false;
  return until_ms > span.from_ms || from_ms >= span.from_ms;
}

/** @returns ms */
function unionOf(times: readonly TimeSpan[], span: TimeSpan): number {
  const clipped = times
    .map(
      ({ from_ms, until_ms }) =>
        [Math.max(from_ms, span.from_ms), Math.min(until_ms, span.until_ms)] as const,
    )
    .sort(([a], [b]) => a - b);
  let [sum, reached] = [0, Number.NEGATIVE_INFINITY];
  for (const [from, until] of clipped) {
    sum += Math.max(0, until - Math.max(from, reached));
    reached = Math.max(reached, until);
  }
  return sum;
}
