/** The log of dispositions: its folder in the records folder. */
export const DISPOSITIONS = "dispositions";

const NUMBER_DIGITS = 8;
/** More digits only where eight do not do, so that no two names have the same number. */
const NUMBERED = /^(\d{8}|[1-9]\d{8,})\.json$/;

/** @returns a log's record, by its number alone: logFile("events", 42) is "events/00000042.json" */
export function logFile(name: string, sequence: number): string {
  return `${name}/${String(sequence).padStart(NUMBER_DIGITS, "0")}.json`;
}

/**
 * @returns the number of a log's record by its file's name; null for a name that no record has
 * @example numberOf("00000042.json") // 42
 */
export function numberOf(file: string): number | null {
  const sequence = NUMBERED.test(file) ? Number.parseInt(file, 10) : 0;
  return sequence > 0 ? sequence : null;
}
