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

/** The same with how far the local time is ahead of UTC. @example zonedTime("2026-01-05T06:00:21.400Z") // "2026-01-05 07:00:21 +01:00" in Berlin */
export function zonedTime(instant: string): string {
  const ahead_min = -new Date(instant).getTimezoneOffset();
  const minutes = Math.abs(ahead_min);
  const offset = `${ahead_min < 0 ? "-" : "+"}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
  return `${localTime(instant)} ${offset}`;
}

function two(part: number): string {
  return String(part).padStart(2, "0");
}

/** How far local time is ahead of UTC at a moment. @example localOffset("2026-07-05T06:00:00.000Z") // "UTC+02:00" in Berlin */
export function localOffset(instant: string): string {
  const minutes = -new Date(instant).getTimezoneOffset();
  const ahead = Math.abs(minutes);
  return `UTC${minutes < 0 ? "-" : "+"}${two(Math.floor(ahead / 60))}:${two(ahead % 60)}`;
}
