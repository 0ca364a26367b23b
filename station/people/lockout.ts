/** Wrong tries in a row, and when the last one was. */
export interface Tries {
  readonly count: number;
  /** Wall clock. */
  readonly at_ms: number;
}

const FREE_TRIES = 3;
const FIRST_LOCK_s = 30;
const LONGEST_LOCK_s = 900;

/**
 * How long nobody may try after so many wrong tries in a row: 30 s after the third, twice as long after each further one,
 * 15 min at most. Of 10 000 PINs of four digits not even a hundred can then be tried in a day.
 * @example lock_s(4) // 60
 */
function lock_s(count: number): number {
  if (count < FREE_TRIES) return 0;
  return Math.min(LONGEST_LOCK_s, FIRST_LOCK_s * 2 ** (count - FREE_TRIES));
}

/** @returns until when nobody may try, by the wall clock; null when somebody may now */
export function lockedUntil_ms({ count, at_ms }: Tries, now_ms: number): number | null {
  const until_ms = at_ms + lock_s(count) * 1000;
  return now_ms < until_ms ? until_ms : null;
}

/**
 * The tries as they count now. A last try that is still to come was made before the clock was set back: its lock then runs
 * anew from now, so that it neither ends early nor lasts for months.
 */
export function triesAt(tries: Tries, now_ms: number): Tries {
  return tries.at_ms > now_ms ? { ...tries, at_ms: now_ms } : tries;
}

/** @example inWords_s(90) // "2 min", rounded up, as "60 s" stays */
export function inWords_s(duration_s: number): string {
  const whole_s = Math.max(1, Math.ceil(duration_s));
  return whole_s <= 60 ? `${whole_s} s` : `${Math.ceil(whole_s / 60)} min`;
}
