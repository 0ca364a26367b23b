/** One shift, by the station's own wall clock: from its begin up to the next one's. */
export interface ShiftTimes {
  readonly from_ms: number;
  readonly to_ms: number;
}

/**
 * The shift that a moment falls into, by the computer's local time; a day on which the clocks change has a shift that much
 * longer or shorter.
 * @param begins local times such as "06:00", ascending; at least one
 * @param at_ms wall time
 * @example shiftAt(["06:00", "14:00", "22:00"], Date.parse("2026-01-05T07:30")) // 06:00 to 14:00 of that day
 * @throws RangeError without begins
 */
export function shiftAt(begins: readonly string[], at_ms: number): ShiftTimes {
  if (begins.length === 0) throw new RangeError("Without a begin there is no shift.");
  // Yesterday's last may still run, and the next may be tomorrow's first.
  const around = [-1, 0, 1].flatMap((days) => begins.map((begin) => beginOn(at_ms, days, begin)));
  const from_ms = Math.max(...around.filter((begin_ms) => begin_ms <= at_ms));
  const to_ms = Math.min(...around.filter((begin_ms) => begin_ms > at_ms));
  return { from_ms, to_ms };
}

function beginOn(at_ms: number, days: number, begin: string): number {
  const date = new Date(at_ms);
  const [hours = Number.NaN, minutes = Number.NaN] = begin.split(":").map(Number);
  return new Date(date.getFullYear(), date.getMonth(), date.getDate() + days, hours, minutes).getTime();
}
