/** Wrong tries in a row, and when the last one was. */
export interface Tries {
  readonly count: number;
  /** Wall clock. */
  readonly at_ms: number;
}

const FREE_TRIES = 3;
const FIRST_LOCK_s = 30;
const LONGEST_LOCK_s = 900;
/** Longer than any lock, or waiting would give more tries than the locks allow. */
const FADES_EVERY_s = 3600;

/**
 * How long nobody may try after so many wrong tries in a row: 30 s after the third, twice as long after each further one,
 * 15 min at most. Of 10 000 PINs of four digits hardly more than a hundred can then be tried in a day (102).
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

/**
 * What is left of tries that no right one may clear: each full hour since the last takes one off, or stray scans of months
 * would add up to a lock.
 * @example fadedTries({ count: 5, at_ms: 0 }, 2 * 3_600_000) // { count: 3, at_ms: 0 }
 * @returns null when none is left
 */
export function fadedTries({ count, at_ms }: Tries, now_ms: number): Tries | null {
  const left = count - Math.floor(Math.max(0, now_ms - at_ms) / (FADES_EVERY_s * 1000));
  return left > 0 ? { count: left, at_ms } : null;
}

/** @example inWords_s(90) // "2 min", rounded up, as "60 s" stays */
export function inWords_s(duration_s: number): string {
  const whole_s = Math.max(1, Math.ceil(duration_s));
  return whole_s <= 60 ? `${whole_s} s` : `${Math.ceil(whole_s / 60)} min`;
}
