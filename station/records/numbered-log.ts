/** The log of dispositions: its folder in the records folder. */
export const DISPOSITIONS = "dispositions";

const NUMBER_DIGITS = 8;

/** @returns a log's record, by its number alone: logFile("events", 42) is "events/00000042.json" */
export function logFile(name: string, sequence: number): string {
  return `${name}/${String(sequence).padStart(NUMBER_DIGITS, "0")}.json`;
}
