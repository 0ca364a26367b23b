import { UsageError } from "../explain.ts";

const MOST_s = 86_400;

/** @throws UsageError for what is no number of seconds up to a day */
export function secondsFrom(option: string, text: string): number {
  const seconds = Number(text);
  if (text.trim() === "" || !(seconds > 0 && seconds <= MOST_s)) {
    throw new UsageError(
      `${option}: found ${JSON.stringify(text)}, expected seconds, more than 0 and up to ${MOST_s}.`,
    );
  }
  return seconds;
}
