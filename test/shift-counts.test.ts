import { describe, expect, it } from "vitest";
import { NO_DOUBTS } from "../station/records/doubts.ts";
import { Traveller } from "../station/records/traveller.ts";
import { ShiftCounts } from "../station/shift-counts.ts";
import { facts, outcome, stoppedClock } from "./records/example-attempt.ts";

function shiftCounts() {
  const clock = stoppedClock(at(5, 8));
  const store = {
    attemptsSince: async () => [],
    eventsSince: async () => [],
    inDoubt: async () => NO_DOUBTS,
  };
  const counts = new ShiftCounts({ file: { shifts: [], referenceCheck: null }, clock, store });
  let sequence = 0;
  const tested = (ended_at: string) => {
    sequence++;
    const traveller = Traveller.parse({
      format: "drumtight/traveller/1",
      id: String(sequence).padStart(32, "0"),
      ...facts(`POD${sequence}`, 1, { started_at: ended_at }),
      ...outcome({ ended_at }),
      chain: { sequence, previous: sequence === 1 ? null : "c".repeat(64) },
    });
    counts.add({ path: `${sequence}.json`, sha256: "d".repeat(64), traveller });
  };
  return { clock, counts, tested };
}

/** Of January 2026, by this computer's local time, as the day's count goes. */
function at(day: number, hour: number): string {
  return new Date(2026, 0, day, hour).toISOString();
}

describe("the day's count", () => {
  it("is of the calendar day, whether or not anybody has asked for the day before", () => {
    const { clock, counts, tested } = shiftCounts();
    tested(at(5, 8));
    tested(at(5, 9));
    clock.wall = at(6, 8);
    tested(at(6, 8));
    expect(counts.dayCount()).toMatchObject({ tested: 1, pass: 1 });
    tested(at(6, 9));
    expect(counts.dayCount()).toMatchObject({ tested: 2, pass: 2 });
  });

  it("leaves out a test that ended before midnight and was recorded after it", () => {
    const { clock, counts, tested } = shiftCounts();
    tested(at(5, 8));
    clock.wall = at(6, 0);
    tested(at(5, 23));
    expect(counts.dayCount().tested).toBe(0);
    tested(at(6, 1));
    expect(counts.dayCount().tested).toBe(1);
  });

  it("goes back with a clock that is put back", () => {
    const { clock, counts, tested } = shiftCounts();
    clock.wall = at(6, 8);
    tested(at(6, 8));
    clock.wall = at(5, 8);
    tested(at(5, 8));
    expect(counts.dayCount().tested).toBe(2);
  });
});
