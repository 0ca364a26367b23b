import fc from "fast-check";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { localDay } from "../../station/records/local-time.ts";
import { beginOfDay, timeRanges } from "../../station/yield/time-ranges.ts";

const zone = process.env.TZ;
afterEach(() => {
  if (zone === undefined) delete process.env.TZ;
  else process.env.TZ = zone;
});

function at(timeZone: string): void {
  process.env.TZ = timeZone;
}

/** Of local days, both included. */
function ranges(by: "day" | "shift" | "hour", from: string, to: string, shifts: readonly string[] = []) {
  return timeRanges(by, beginOfDay(from), beginOfDay(to, 1), shifts).map((it) => ({
    name: it.name,
    hours: (it.to_ms - it.from_ms) / 3_600_000,
    from: new Date(it.from_ms).toISOString(),
  }));
}

describe("days of a plant", () => {
  it("have 23 hours when the clocks are put forward and 25 when they are put back", () => {
    at("Europe/Berlin");
    expect(ranges("day", "2026-03-28", "2026-03-30").map((it) => it.hours)).toEqual([24, 23, 24]);
    expect(ranges("day", "2026-10-24", "2026-10-26").map((it) => it.hours)).toEqual([24, 25, 24]);
  });

  it("begin at the plant's midnight", () => {
    at("Asia/Kolkata");
    expect(ranges("day", "2026-01-05", "2026-01-05")).toEqual([
      { name: "2026-01-05", hours: 24, from: "2026-01-04T18:30:00.000Z" },
    ]);
    at("America/New_York");
    expect(ranges("day", "2026-01-05", "2026-01-05")[0]?.from).toBe("2026-01-05T05:00:00.000Z");
  });

  it("begin when they begin where midnight is left out", () => {
    at("Africa/Cairo"); // 2026-04-24 00:00 is 01:00 at once
    const [before, day] = ranges("day", "2026-04-23", "2026-04-24");
    expect(before).toEqual({ name: "2026-04-23", hours: 24, from: "2026-04-22T22:00:00.000Z" });
    expect(day).toEqual({ name: "2026-04-24", hours: 23, from: "2026-04-23T22:00:00.000Z" });
  });
});

describe("hours of a plant", () => {
  it("are told apart where the clock shows one twice", () => {
    at("Europe/Berlin");
    const names = ranges("hour", "2026-10-25", "2026-10-25").map((it) => it.name);
    expect(names).toHaveLength(25);
    expect(names.slice(1, 5)).toEqual([
      "2026-10-25 01:00",
      "2026-10-25 02:00 +02:00",
      "2026-10-25 02:00 +01:00",
      "2026-10-25 03:00",
    ]);
  });

  it("leave out the one that the clock skips", () => {
    at("America/New_York");
    const names = ranges("hour", "2026-03-08", "2026-03-08").map((it) => it.name.slice(-5));
    expect(names).toHaveLength(23);
    expect(names.slice(0, 4)).toEqual(["00:00", "01:00", "03:00", "04:00"]);
  });

  it("may be cut in half where clocks change by half an hour", () => {
    at("Australia/Lord_Howe"); // back from 02:00 +11:00 to 01:30 +10:30
    const hours = ranges("hour", "2026-04-05", "2026-04-05");
    expect(hours.slice(0, 4).map((it) => [it.name, it.hours])).toEqual([
      ["2026-04-05 00:00", 1],
      ["2026-04-05 01:00 +11:00", 1],
      ["2026-04-05 01:00 +10:30", 0.5],
      ["2026-04-05 02:00", 1],
    ]);
    expect(hours.reduce((sum, it) => sum + it.hours, 0)).toBe(24.5);
  });

  it("begin at full hours of the plant where it is half an hour apart from UTC", () => {
    at("Asia/Kolkata");
    expect(ranges("hour", "2026-01-05", "2026-01-05")[6]).toEqual({
      name: "2026-01-05 06:00",
      hours: 1,
      from: "2026-01-05T00:30:00.000Z",
    });
  });
});

describe("shifts of a plant", () => {
  const SHIFTS = ["06:00", "14:00", "22:00"];

  it("go on over midnight, and say where a day cuts them", () => {
    at("Europe/Berlin");
    expect(ranges("shift", "2026-01-05", "2026-01-05", SHIFTS).map((it) => [it.name, it.hours])).toEqual([
      ["2026-01-04 22:00 to 06:00, part", 6],
      ["2026-01-05 06:00 to 14:00", 8],
      ["2026-01-05 14:00 to 22:00", 8],
      ["2026-01-05 22:00 to 06:00, part", 2],
    ]);
  });

  it("are an hour longer in the night in which the clocks are put back", () => {
    at("Europe/Berlin");
    const night = ranges("shift", "2026-10-24", "2026-10-25", SHIFTS).find((it) =>
      it.name.startsWith("2026-10-24 22:00"),
    );
    expect(night).toMatchObject({ name: "2026-10-24 22:00 to 06:00", hours: 9 });
  });
});

describe("days, shifts and hours in any zone", () => {
  beforeEach(() => at("UTC"));

  it("follow each other without a gap, and every moment of one is of its day", () => {
    const zones = [
      "UTC",
      "Europe/Berlin",
      "America/New_York",
      "Asia/Kolkata",
      "Australia/Lord_Howe",
      "Asia/Kathmandu",
    ];
    fc.assert(
      fc.property(
        fc.constantFrom(...zones),
        fc.integer({ min: 0, max: 364 }),
        fc.integer({ min: 0, max: 3 }),
        fc.constantFrom("day" as const, "shift" as const, "hour" as const),
        fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true }),
        (timeZone, day, days, by, part) => {
          at(timeZone);
          const first = localDay(new Date(2026, 0, 1 + day, 12).toISOString());
          const [from_ms, to_ms] = [beginOfDay(first), beginOfDay(first, 1 + days)];
          const all = timeRanges(by, from_ms, to_ms, ["05:30", "13:45", "22:00"]);
          expect(all[0]?.from_ms).toBe(from_ms);
          expect(all.at(-1)?.to_ms).toBe(to_ms);
          for (const [k, range] of all.entries()) {
            expect(range.to_ms).toBeGreaterThan(range.from_ms);
            if (k > 0) expect(range.from_ms).toBe(all[k - 1]?.to_ms);
          }
          expect(new Set(all.map(({ name }) => name)).size).toBe(all.length);
          if (by === "shift") return;
          const moment_ms = from_ms + Math.floor(part * (to_ms - from_ms));
          const own = all.find((it) => it.from_ms <= moment_ms && moment_ms < it.to_ms);
          const moment = new Date(moment_ms);
          expect(own?.name.slice(0, 10)).toBe(localDay(moment.toISOString()));
          if (by === "hour") expect(Number(own?.name.slice(11, 13))).toBe(moment.getHours());
        },
      ),
      { numRuns: 300 },
    );
  });

  it.each(["2026-02-30", "2025-02-29", "2026-13-01", "2026-00-10", "2026-01-00", "soon"])(
    "there is no day %s",
    (day) => expect(beginOfDay(day)).toBeNaN(),
  );

  it("there is a leap day", () => expect(beginOfDay("2028-02-29")).toBe(Date.parse("2028-02-29T00:00:00Z")));
});
