import { InvalidArgumentError } from "@commander-js/extra-typings";

/**
 * A day that is asked for.
 * @throws InvalidArgumentError for what is no day of the calendar
 * @example calendarDate("2026-01-05") // "2026-01-05"
 */
export function calendarDate(text: string): string {
  const at = /^\d{4}-\d{2}-\d{2}$/.test(text) ? new Date(text) : new Date(Number.NaN);
  if (Number.isNaN(at.getTime()) || at.toISOString().slice(0, text.length) !== text) {
    throw new InvalidArgumentError("Give a date like 2026-01-05.");
  }
  return text;
}
