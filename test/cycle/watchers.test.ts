import { describe, expect, it } from "vitest";
import type { Quality, Reading } from "../../drivers/ports.ts";
import { createWatcher, type LookAtCurve, type Observation } from "../../station/cycle/watchers.ts";

function reading(channel: string, t_s: number, value: number, quality: Quality = "good"): Reading {
  return { channel, t_s, value, quality };
}

/** Feeds single readings until something comes out. @returns it and how many readings it took */
function feed(observation: Observation, readings: readonly Reading[]) {
  const watcher = createWatcher(observation);
  for (const [i, one] of readings.entries()) {
    const outcome = watcher.accept([one]);
    if (outcome) return { outcome, after: i + 1 };
  }
  return { outcome: undefined, after: readings.length };
}

describe("any watched channel", () => {
  it.each([
    ["over-range", "GAUGE_OVER_RANGE"],
    ["invalid", "GAUGE_INVALID"],
  ] as const)("that is %s ends the phase without an outcome", (quality, code) => {
    const order: Observation = { watch: "curve", origin_s: 0, duration_s: 5 };
    expect(feed(order, [reading("leak_pressure", 0, 1, quality)]).outcome).toMatchObject({
      kind: "untrusted",
      reason: { code },
    });
  });

  it("with a value that is no number ends the phase too", () => {
    const order: Observation = { watch: "vented", within_Pa: 100 };
    expect(feed(order, [reading("leak_pressure", 0, Number.NaN)]).outcome).toMatchObject({
      kind: "untrusted",
    });
  });

  it("may be over-range when it is not one the phase watches", () => {
    const order: Observation = { watch: "vented", within_Pa: 100 };
    expect(feed(order, [reading("suction", 0, 9e9, "over-range")]).outcome).toBeUndefined();
  });
});

describe("the vent", () => {
  it("is over with the first of five readings in a row near ambient", () => {
    const pressures = [4_000, 90, 3_000, 99, -100, 50, 0, 10];
    const samples = pressures.map((value, i) => reading("leak_pressure", 10 + i, value));
    expect(feed({ watch: "vented", within_Pa: 100 }, samples)).toEqual({
      after: 8,
      outcome: { kind: "vented", at_s: 13 },
    });
  });
});

describe("the curve", () => {
  it("keeps every sample at its own time, in whole microseconds and millipascals, until the time is over", () => {
    const order: Observation = { watch: "curve", origin_s: 10, duration_s: 0.05 };
    const samples = [10.5, 10.5203, 10.5397, 10.5602].map((t_s, i) =>
      reading("leak_pressure", t_s, -8_000 + i * 0.0014),
    );
    expect(feed(order, samples)).toEqual({
      after: 4,
      outcome: {
        kind: "curve",
        curve: {
          t_us: [500_000, 520_300, 539_700, 560_200],
          pressure_mPa: [-8_000_000, -7_999_999, -7_999_997, -7_999_996],
        },
      },
    });
  });
});

describe("a curve that is looked at on the way", () => {
  const noisy = (i: number) => 5_000 + (i % 3);
  /** Readings fifty times a second from t = 10 s on. */
  const readings = (seconds: number, value = noisy) =>
    Array.from({ length: Math.round(seconds * 50) + 1 }, (_, i) =>
      reading("leak_pressure", 10 + i / 50, value(i)),
    );
  const order = (lookAt: LookAtCurve, first_s = 2, every_s = 0.5): Observation => ({
    watch: "curve",
    origin_s: 4,
    duration_s: 5,
    looks: { first_s, every_s, lookAt },
  });

  it("is looked at from the first look on at every interval, and not at its end", () => {
    const lengths: number[] = [];
    const lookAt: LookAtCurve = (curve) => {
      lengths.push(curve.t_us.length);
      return null;
    };
    const { outcome } = feed(order(lookAt), readings(6));
    expect(lengths).toEqual([101, 126, 151, 176, 201, 226]);
    if (outcome?.kind !== "curve") throw new Error("no curve");
    expect(outcome.curve.t_us).toHaveLength(251);
    expect(outcome.look).toEqual({ number: 6, at_s: 10.5, early: false });
  });

  it("ends with the look that is certain, and keeps which one that was and why", () => {
    const decision = { distance: 5.1, boundary: 4.4, riskSpent: 0.3 };
    const lookAt: LookAtCurve = (curve) => (curve.t_us.length > 130 ? decision : null);
    const { outcome, after } = feed(order(lookAt), readings(6));
    expect(after).toBe(151);
    if (outcome?.kind !== "curve") throw new Error("no curve");
    expect(outcome.curve.t_us.at(-1)).toBe(9_000_000);
    expect(outcome.look).toEqual({ number: 3, at_s: 9, early: true, decision });
  });

  it("gives a curve that what comes later does not touch", () => {
    const watcher = createWatcher(order(() => ({}), 0.05));
    const given = readings(0.2).map((one) => watcher.accept([one]));
    const first = given.find((outcome) => outcome !== undefined);
    if (first?.kind !== "curve") throw new Error("no curve");
    expect(first.curve.t_us).toHaveLength(4);
  });

  it("leaves out the looks that fall into a gap of the readings, and stays on its grid after it", () => {
    const at: number[] = [];
    const lookAt: LookAtCurve = (curve) => {
      at.push((curve.t_us.at(-1) ?? 0) / 1e6 - 6);
      return null;
    };
    feed(
      order(lookAt),
      readings(6).filter(({ t_s }) => t_s < 12.2 || t_s > 12.7),
    );
    expect(at.map((t_s) => t_s.toFixed(2))).toEqual(["2.00", "2.72", "3.00", "3.50", "4.00", "4.50"]);
  });

  it("is never certain of a gauge that stands still", () => {
    const { outcome } = feed(
      order(() => ({})),
      readings(6, () => 5_000),
    );
    expect(outcome).toMatchObject({ kind: "untrusted", reason: { code: "GAUGE_FROZEN" } });
  });

  it("says nothing of looks when there were none", () => {
    const { outcome } = feed(
      order(() => null, 9),
      readings(6),
    );
    expect(outcome).not.toHaveProperty("look");
  });
});

describe("a gauge that shows the same value all the time", () => {
  const order: Observation = { watch: "curve", origin_s: 0, duration_s: 1 };
  const at = (value: (i: number) => number) =>
    Array.from({ length: 60 }, (_, i) => reading("leak_pressure", i * 0.02, value(i)));

  it("gives no curve", () => {
    expect(
      feed(
        order,
        at(() => -8_000),
      ).outcome,
    ).toMatchObject({ reason: { code: "GAUGE_FROZEN" } });
  });

  it("gives none either when it froze before the middle", () => {
    expect(
      feed(
        order,
        at((i) => (i < 20 ? -8_000 - i : -8_020)),
      ).outcome,
    ).toMatchObject({ reason: { code: "GAUGE_FROZEN" } });
  });

  it("gives one if a single reading differs", () => {
    expect(
      feed(
        order,
        at((i) => (i === 30 ? -8_000.01 : -8_000)),
      ).outcome,
    ).toMatchObject({ kind: "curve" });
  });
});
