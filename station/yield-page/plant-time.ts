const made = new Map<string, Intl.DateTimeFormat>();

/**
 * A time by the clocks of a zone, to the minute.
 * @param zone IANA name
 * @example plantTime("2026-01-05T06:00:21.400Z", "Europe/Berlin") // "2026-01-05 07:00"
 */
export function plantTime(at: string | number, zone: string): string {
  const format = made.get(zone) ?? formatOf(zone);
  made.set(zone, format);
  const parts = new Map(format.formatToParts(new Date(at)).map(({ type, value }) => [type, value]));
  const part = (name: Intl.DateTimeFormatPartTypes) => parts.get(name) ?? "";
  return `${part("year")}-${part("month")}-${part("day")} ${part("hour")}:${part("minute")}`;
}

function formatOf(zone: string): Intl.DateTimeFormat {
  return new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  });
}
