import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type DownEvent, downTimes } from "../../station/yield/down-time.ts";

const DAY = { from_ms: at("00:00"), until_ms: at("24:00") };
const LATER = at("24:00") + 3_600_000;

/** Minutes past the hour may be more than 59: only the sum matters. */
function at(time: string): number {
  const [hours = 0, minutes = 0] = time.split(":").map(Number);
  return Date.UTC(2026, 0, 5, hours, minutes);
}

function event(name: string, time: string, ...codes: readonly string[]): DownEvent {
  const reasons = codes.map((code) => ({ code, sentence: `${code} at ${time}` }));
  return { event: name, at: new Date(at(time)).toISOString(), ...(codes.length > 0 ? { reasons } : {}) };
}

const told = (events: readonly DownEvent[], span = DAY, now_ms = LATER) =>
  downTimes(events, span, now_ms).downTime.map(({ code, count, down_s }) => [code, count, down_s]);

describe("down time", () => {
  it("goes from a fault until it was acknowledged", () => {
    const events = [
      event("opened", "05:55"),
      event("fault", "06:00", "VALVE_STUCK"),
      event("acknowledged", "06:10", "VALVE_STUCK"),
    ];
    expect(downTimes(events, DAY, LATER)).toEqual({
      downTime: [
        {
          code: "VALVE_STUCK",
          sentence: "VALVE_STUCK at 06:00",
          count: 1,
          down_s: 600,
          last_at: "2026-01-05T06:00:00.000Z",
        },
      ],
      down_s: 600,
      notes: [],
    });
  });

  it("ends where the station was closed", () => {
    expect(told([event("fault", "06:00", "A"), event("closed", "06:05"), event("opened", "09:00")])).toEqual([
      ["A", 1, 300],
    ]);
  });

  it("goes on to the next start where the station ended without being closed, and says so", () => {
    const found = downTimes([event("fault", "06:00", "A"), event("opened", "07:00")], DAY, LATER);
    expect(found.down_s).toBe(3600);
    expect(found.notes).toEqual([expect.stringContaining("without being closed")]);
  });

  it("is not ended by what happens meanwhile", () => {
    const between = ["signed_in", "signed_out", "sign_in_refused", "limits_changed"].map((name) =>
      event(name, "06:01"),
    );
    expect(told([event("fault", "06:00", "A"), ...between, event("acknowledged", "06:10")])).toEqual([
      ["A", 1, 600],
    ]);
  });

  it("counts faults at the same time for each code, and once altogether", () => {
    const events = [
      event("fault", "06:00", "A"),
      event("fault", "06:04", "B"),
      event("acknowledged", "06:10", "A", "B"),
    ];
    expect(told(events)).toEqual([
      ["A", 1, 600],
      ["B", 1, 360],
    ]);
    expect(downTimes(events, DAY, LATER).down_s).toBe(600);
  });

  it("counts a code's time once where it came twice before somebody acknowledged, and tells both", () => {
    expect(
      told([event("fault", "06:00", "A"), event("fault", "06:04", "A"), event("acknowledged", "06:10")]),
    ).toEqual([["A", 2, 600]]);
  });

  it("adds up what came at different times, with the newest one's words, the longest first", () => {
    const events = [
      event("fault", "06:00", "A"),
      event("acknowledged", "06:01"),
      event("fault", "07:00", "B"),
      event("acknowledged", "07:30"),
      event("fault", "08:00", "A"),
      event("acknowledged", "08:02"),
    ];
    expect(told(events)).toEqual([
      ["B", 1, 1800],
      ["A", 2, 180],
    ]);
    expect(downTimes(events, DAY, LATER).downTime[1]).toMatchObject({
      sentence: "A at 08:00",
      last_at: expect.stringContaining("T08:00"),
    });
  });

  it("counts only what lies in the time asked for, also of a fault that came before it", () => {
    const span = { from_ms: at("06:00"), until_ms: at("14:00") };
    const events = [
      event("fault", "05:00", "EARLY"),
      event("acknowledged", "06:10"),
      event("fault", "13:50", "LATE"),
      event("acknowledged", "15:00"),
      event("fault", "16:00", "AFTER"),
      event("acknowledged", "16:30"),
    ];
    expect(told(events, span)).toEqual([
      ["EARLY", 1, 600],
      ["LATE", 1, 600],
    ]);
    expect(told(events, { from_ms: at("06:10"), until_ms: at("13:50") })).toEqual([]);
  });

  it("goes on until now, or to the end of the time asked for, where nobody has acknowledged, and says so", () => {
    const events = [event("fault", "22:00", "A")];
    expect(told(events, DAY, at("22:30"))).toEqual([["A", 1, 1800]]);
    expect(told(events)).toEqual([["A", 1, 7200]]);
    expect(downTimes(events, DAY, LATER).notes).toEqual([expect.stringContaining("was not acknowledged")]);
    expect(downTimes(events, { from_ms: at("00:00"), until_ms: at("22:00") }, LATER).notes).toEqual([]);
  });

  it("is nothing, and is said to be unknown, where the clock was put back meanwhile", () => {
    const found = downTimes([event("fault", "06:30", "A"), event("acknowledged", "05:40")], DAY, LATER);
    expect(found.downTime).toMatchObject([{ code: "A", count: 1, down_s: 0 }]);
    expect(found.notes).toEqual([expect.stringContaining("put back")]);
  });

  it("counts a fault that lasted no time", () => {
    expect(told([event("fault", "06:00", "A"), event("acknowledged", "06:00")])).toEqual([["A", 1, 0]]);
  });

  const histories = fc.array(
    fc.record({
      event: fc.constantFrom("fault", "acknowledged", "closed", "opened", "signed_in"),
      minute: fc.integer({ min: 0, max: 1439 }),
      codes: fc.subarray(["A", "B", "C"], { minLength: 1 }),
    }),
    { maxLength: 30 },
  );

  it("agrees with a look at the station minute by minute, whatever happened", () => {
    fc.assert(
      fc.property(
        histories,
        fc.integer({ min: 0, max: 700 }),
        fc.integer({ min: 701, max: 1440 }),
        (history, from, until) => {
          const sorted = [...history].sort((a, b) => a.minute - b.minute);
          const events = sorted.map((it) =>
            event(it.event, `0:${it.minute}`, ...(it.event === "fault" ? it.codes : [])),
          );
          const span = { from_ms: at(`0:${from}`), until_ms: at(`0:${until}`) };
          const down = new Map<string, number>();
          let minutes = 0;
          for (let minute = from; minute < until; minute++) {
            const open = new Set<string>();
            for (const it of sorted.filter((one) => one.minute <= minute)) {
              if (it.event === "fault") for (const code of it.codes) open.add(code);
              else if (it.event !== "signed_in") open.clear();
            }
            for (const code of open) down.set(code, (down.get(code) ?? 0) + 60);
            if (open.size > 0) minutes++;
          }
          const found = downTimes(events, span, LATER);
          expect(found.down_s).toBe(60 * minutes);
          const lasting = found.downTime
            .filter(({ down_s }) => down_s > 0)
            .map(({ code, down_s }) => [code, down_s] as const);
          expect(new Map(lasting)).toEqual(down);
        },
      ),
    );
  });

  it("adds up to the whole when the time asked for is cut in two", () => {
    fc.assert(
      fc.property(histories, fc.integer({ min: 1, max: 1439 }), (history, cut) => {
        const events = history.map((it) =>
          event(it.event, `0:${it.minute}`, ...(it.event === "fault" ? it.codes : [])),
        );
        const middle_ms = at(`0:${cut}`);
        const whole = downTimes(events, DAY, LATER).down_s;
        const before = downTimes(events, { ...DAY, until_ms: middle_ms }, LATER).down_s;
        const after = downTimes(events, { ...DAY, from_ms: middle_ms }, LATER).down_s;
        expect(before + after).toBeCloseTo(whole, 6);
      }),
    );
  });
});
