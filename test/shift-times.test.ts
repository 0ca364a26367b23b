import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { shiftAt } from "../station/shift-times.ts";

const THREE = ["06:00", "14:00", "22:00"];
const ms = (local: string) => new Date(local).getTime();

describe("the shift of a moment", () => {
  it.each([
    ["2026-01-05T06:00", "2026-01-05T06:00", "2026-01-05T14:00"],
    ["2026-01-05T07:30", "2026-01-05T06:00", "2026-01-05T14:00"],
    ["2026-01-05T13:59:59.999", "2026-01-05T06:00", "2026-01-05T14:00"],
    ["2026-01-05T23:10", "2026-01-05T22:00", "2026-01-06T06:00"],
    ["2026-01-06T00:00", "2026-01-05T22:00", "2026-01-06T06:00"],
    ["2026-02-28T22:00", "2026-02-28T22:00", "2026-03-01T06:00"],
  ])("%s is the one from %s to %s", (at, from, to) => {
    expect(shiftAt(THREE, ms(at))).toEqual({ from_ms: ms(from), to_ms: ms(to) });
  });

  it("lasts a whole day where there is one", () => {
    expect(shiftAt(["06:30"], ms("2026-01-05T06:29"))).toEqual({
      from_ms: ms("2026-01-04T06:30"),
      to_ms: ms("2026-01-05T06:30"),
    });
  });

  it("has begun and not ended, at any moment of any year", () => {
    const times = fc.uniqueArray(fc.integer({ min: 0, max: 24 * 60 - 1 }), { minLength: 1, maxLength: 6 });
    const moment = fc.integer({ min: ms("2020-01-01T00:00"), max: ms("2040-01-01T00:00") });
    fc.assert(
      fc.property(times, moment, (minutes, at_ms) => {
        const begins = minutes.sort((a, b) => a - b).map(clockTime);
        const { from_ms, to_ms } = shiftAt(begins, at_ms);
        expect(from_ms).toBeLessThanOrEqual(at_ms);
        expect(to_ms).toBeGreaterThan(at_ms);
        expect(begins).toContain(new Date(from_ms).toTimeString().slice(0, 5));
      }),
    );
  });

  it("is none where no shift begins", () => {
    expect(() => shiftAt([], 0)).toThrow(RangeError);
  });
});

function clockTime(minute: number): string {
  return `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`;
}
