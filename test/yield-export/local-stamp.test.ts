import { expect, it } from "vitest";
import { localStamp } from "../../station/yield-export/local-stamp.ts";

it.each([
  ["2026-01-05T05:00:00.000Z", "Europe/Berlin", "2026-01-05 06:00:00 +01:00"],
  ["2026-10-25T00:30:00.000Z", "Europe/Berlin", "2026-10-25 02:30:00 +02:00"],
  ["2026-10-25T01:30:00.000Z", "Europe/Berlin", "2026-10-25 02:30:00 +01:00"],
  ["2026-01-05T18:30:00.000Z", "Asia/Kolkata", "2026-01-06 00:00:00 +05:30"],
  ["2026-01-05T04:59:59.999Z", "America/New_York", "2026-01-04 23:59:59 -05:00"],
  ["2026-01-05T05:00:00.000Z", "UTC", "2026-01-05 05:00:00 +00:00"],
])("%s in %s is %s", (instant, timeZone, stamp) => {
  expect(localStamp(instant, timeZone)).toBe(stamp);
});
