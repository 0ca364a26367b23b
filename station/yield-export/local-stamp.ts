/**
 * An instant as a plant's clocks show it, told apart from the same hour once more in autumn by its offset.
 * @param timeZone IANA name
 * @example localStamp("2026-10-25T01:30:00.000Z", "Europe/Berlin") // "2026-10-25 02:30:00 +01:00"
 */
export function localStamp(instant: string, timeZone: string): string {
  const parts = new Map<string, string>(
    formatOf(timeZone)
      .formatToParts(new Date(instant))
      .map(({ type, value }) => [type, value] as const),
  );
  const [year, month, day, hour, minute, second] = ["year", "month", "day", "hour", "minute", "second"].map(
    (part) => parts.get(part),
  );
  const offset = parts.get("timeZoneName")?.replace("GMT", "") || "+00:00";
  return `${year}-${month}-${day} ${hour}:${minute}:${second} ${offset}`;
}

/** To make one takes longer than to use it. */
const FORMATS = new Map<string, Intl.DateTimeFormat>();

function formatOf(timeZone: string): Intl.DateTimeFormat {
  const known = FORMATS.get(timeZone);
  if (known) return known;
  const format = new Intl.DateTimeFormat("en-GB", {
    ...{
      timeZone,
      hourCycle: "h23",
      timeZoneName: "longOffset",
      calendar: "gregory",
      numberingSystem: "latn",
    },
    ...{
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
      hour: "2-digit",
      minute: "2-digit",
      second: "2-digit",
    },
  });
  FORMATS.set(timeZone, format);
  return format;
}
