import { localTime } from "../records/local-time.ts";
import { shiftAt } from "../shift-times.ts";

/** From a moment up to the next one's begin. */
export interface TimeRange {
  readonly name: string;
  readonly from_ms: number;
  readonly to_ms: number;
}

export type TimeGrouping = "day" | "shift" | "hour";

/**
 * Days, shifts or hours of a time, by the computer's local time. A day on which the clocks change has 23 or 25 hours, and of two
 * hours with one name each says how far it is from UTC. What lies partly outside the time is cut off there, and says so.
 * @param shifts begins of shifts, ascending; at least one where shifts are asked for
 * @returns ranges that follow each other without a gap
 * @example timeRanges("hour", from, to, [])[3]?.name // "2026-10-25 02:00 +01:00" in Berlin, after "2026-10-25 02:00 +02:00"
 */
export function timeRanges(
  by: TimeGrouping,
  from_ms: number,
  to_ms: number,
  shifts: readonly string[],
): TimeRange[] {
  const ranges: TimeRange[] = [];
  for (let at_ms = from_ms; at_ms < to_ms; ) {
    const whole = wholeRangeAt(by, at_ms, shifts);
    const range = { ...whole, from_ms: at_ms, to_ms: Math.min(whole.to_ms, to_ms) };
    const isCut = whole.from_ms < range.from_ms || whole.to_ms > range.to_ms;
    ranges.push(by === "shift" && isCut ? { ...range, name: `${whole.name}, part` } : range);
    at_ms = range.to_ms;
  }
  return by === "hour" ? toldApart(ranges) : ranges;
}

function wholeRangeAt(by: TimeGrouping, at_ms: number, shifts: readonly string[]): TimeRange {
  if (by === "shift") {
    const { from_ms, to_ms } = shiftAt(shifts, at_ms);
    return { name: `${minuteOf(from_ms)} to ${minuteOf(to_ms).slice("2026-01-05 ".length)}`, from_ms, to_ms };
  }
  if (by === "day") {
    const at = new Date(at_ms);
    const [year, month, date] = [at.getFullYear(), at.getMonth(), at.getDate()];
    return {
      name: minuteOf(at_ms).slice(0, "2026-01-05".length),
      from_ms: new Date(year, month, date).getTime(),
      to_ms: new Date(year, month, date + 1).getTime(),
    };
  }
  const next_ms = at_ms + HOUR_MS - intoHour_ms(at_ms);
  const change_ms = changeOfClocks(at_ms, next_ms);
  return {
    name: `${minuteOf(at_ms).slice(0, "2026-01-05 06".length)}:00`,
    from_ms: at_ms,
    to_ms: change_ms ?? next_ms,
  };
}

const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;

function intoHour_ms(at_ms: number): number {
  const at = new Date(at_ms);
  return at.getMinutes() * MINUTE_MS + at.getSeconds() * 1000 + at.getMilliseconds();
}

/** @returns when the clocks are put forward or back after the one moment and no later than the other; null where they are not */
function changeOfClocks(after_ms: number, to_ms: number): number | null {
  const offset = offsetAt(after_ms);
  if (offsetAt(to_ms) === offset) return null;
  let [before, since] = [after_ms, to_ms];
  while (since - before > 1) {
    const middle = Math.floor((before + since) / 2);
    if (offsetAt(middle) === offset) before = middle;
    else since = middle;
  }
  return since;
}

/** Minutes that local time is ahead of UTC. */
function offsetAt(at_ms: number): number {
  return -new Date(at_ms).getTimezoneOffset();
}

/** Hours that are there twice get their offset. */
function toldApart(ranges: readonly TimeRange[]): TimeRange[] {
  return ranges.map((range, k) => {
    const twin = [ranges[k - 2], ranges[k - 1], ranges[k + 1], ranges[k + 2]].find(
      (it) => it?.name === range.name,
    );
    return twin && offsetAt(twin.from_ms) !== offsetAt(range.from_ms)
      ? { ...range, name: `${range.name} ${offsetText(offsetAt(range.from_ms))}` }
      : range;
  });
}

/** @example offsetText(60) // "+01:00" */
function offsetText(minutes: number): string {
  const two = (part: number) => String(part).padStart(2, "0");
  const size = Math.abs(minutes);
  return `${minutes < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}

/** @example minuteOf(Date.parse("2026-01-05T06:00:21Z")) // "2026-01-05 07:00" in Berlin */
function minuteOf(at_ms: number): string {
  return localTime(new Date(at_ms).toISOString()).slice(0, "2026-01-05 06:00".length);
}

/**
 * The moment at which a day begins by the computer's calendar, or one so many days later.
 * @param day "2026-01-05"
 * @returns NaN for a day that there is not, like 2026-02-30
 */
export function beginOfDay(day: string, days = 0): number {
  const [year = Number.NaN, month = Number.NaN, date = Number.NaN] = day.split("-").map(Number);
  const begin = new Date(year, month - 1, date);
  const isThere = begin.getMonth() === month - 1 && begin.getDate() === date && begin.getFullYear() === year;
  return isThere ? new Date(year, month - 1, date + days).getTime() : Number.NaN;
}
