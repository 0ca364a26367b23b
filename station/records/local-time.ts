/** By the computer's calendar. @example localDay("2026-01-05T23:30:00.000Z") // "2026-01-06" in Berlin */
export function localDay(instant: string): string {
  const at = new Date(instant);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}

/** @example localTime("2026-01-05T06:00:21.400Z") // "2026-01-05 07:00:21" in Berlin */
export function localTime(instant: string): string {
  const at = new Date(instant);
  return `${localDay(instant)} ${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`;
}

function two(part: number): string {
  return String(part).padStart(2, "0");
}
