import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Reading } from "../../drivers/ports.ts";
import { type FillSeen, fillFinding, sourceFinding } from "../../station/cycle/fill-findings.ts";
import { createWatcher } from "../../station/cycle/watchers.ts";

const tub = { testPressure_Pa: -8_000, fillTolerance_Pa: 200, fillShortest_s: 2, fillLongest_s: 8 };
const pod = { testPressure_Pa: 5_000, fillTolerance_Pa: 150, fillShortest_s: 1.5, fillLongest_s: 5 };
type Rules = typeof tub;

interface Fixture {
  readonly rules: Rules;
  /** Source at rest, and what it droops by under the whole flow. */
  readonly source_Pa: number;
  readonly droop_Pa: number;
  /** What the body comes to and how fast, on a course 1 - exp(-t / tau). */
  readonly end_Pa: number;
  readonly tau_s: number;
}

const BODY_HZ = 50;
const SOURCE_HZ = 20;

/** Noise that is the same each time, about as large as that of a source gauge of 4 Pa. */
function noise_Pa(i: number): number {
  return (((i * 7919) % 23) - 11) * 0.55;
}

/** Readings of both gauges in the order of their times. The source droops as long as the body takes air. */
function readingsOf({ rules, source_Pa, droop_Pa, end_Pa, tau_s }: Fixture, flowsOn: boolean): Reading[] {
  const direction = Math.sign(rules.testPressure_Pa);
  const readings: Reading[] = [];
  for (let i = 0; i <= (rules.fillLongest_s + 0.2) * BODY_HZ; i++) {
    const t_s = i / BODY_HZ;
    const value = end_Pa * (1 - Math.exp(-t_s / tau_s)) + noise_Pa(i) / 5;
    readings.push({ channel: "leak_pressure", t_s, value, quality: "good" });
  }
  for (let i = 0; i <= (rules.fillLongest_s + 0.2) * SOURCE_HZ; i++) {
    const t_s = i / SOURCE_HZ + 0.003;
    const flow = flowsOn ? 1 : Math.exp(-t_s / tau_s);
    const value = source_Pa - direction * droop_Pa * flow + noise_Pa(i);
    readings.push({ channel: "source_pressure", t_s, value, quality: "good" });
  }
  return readings.sort((a, b) => a.t_s - b.t_s);
}

function seenOf(fixture: Fixture, readings: readonly Reading[]): FillSeen {
  return watched(fixture, readings).seen;
}

/** @returns what was seen, and the place of the reading that ended it */
function watched(
  fixture: Fixture,
  readings: readonly Reading[],
): { readonly seen: FillSeen; readonly last: number } {
  const { testPressure_Pa, fillTolerance_Pa, fillLongest_s } = fixture.rules;
  const watcher = createWatcher({
    watch: "fill",
    target_Pa: testPressure_Pa,
    tolerance_Pa: fillTolerance_Pa,
    longest_s: fillLongest_s,
  });
  for (const [last, reading] of readings.entries()) {
    const outcome = watcher.accept([reading]);
    if (outcome?.kind === "fill") {
      return { seen: { ...outcome.fill, sourceAtRest_Pa: fixture.source_Pa }, last };
    }
    if (outcome) throw new Error(`The fill ended as ${JSON.stringify(outcome)}.`);
  }
  throw new Error("The fill did not end.");
}

function codeOf(fixture: Fixture, readings: readonly Reading[]): string {
  return fillFinding(seenOf(fixture, readings), fixture.rules)?.reason.code ?? "FILLED";
}

// What the demo plant's fixtures do: restrictor, droop and times of a 12 L body under suction and a 4 L one under pressure.
const tubSource = { rules: tub, source_Pa: -8_240, droop_Pa: 125, tau_s: 2 };
const podSource = { rules: pod, source_Pa: 5_150, droop_Pa: 39, tau_s: 1.2 };
const CASES: readonly (readonly [string, Fixture, boolean, string])[] = [
  ["a tight tub", { ...tubSource, end_Pa: -8_240 }, false, "FILLED"],
  ["a tight pod", { ...podSource, end_Pa: 5_150 }, false, "FILLED"],
  ["a tub with a lid askew", { ...tubSource, end_Pa: -6_300 }, true, "GROSS_LEAK"],
  ["a pod with a lid askew", { ...podSource, end_Pa: 3_600 }, true, "GROSS_LEAK"],
  ["a tub without its gasket", { ...tubSource, end_Pa: -15 }, true, "UNIT_NOT_SEALED"],
  ["a pod without its gasket", { ...podSource, end_Pa: 6 }, true, "UNIT_NOT_SEALED"],
  ["a tub behind a shut valve", { ...tubSource, droop_Pa: 0, end_Pa: 0 }, false, "BLOCKED_FIXTURE"],
  ["a pod behind a shut valve", { ...podSource, droop_Pa: 0, end_Pa: 0 }, false, "BLOCKED_FIXTURE"],
  ["a tub's hose alone", { ...tubSource, end_Pa: -8_190, tau_s: 0.07 }, false, "BLOCKED_FIXTURE"],
  ["a tub's hose alone, too far", { ...tubSource, end_Pa: -8_240, tau_s: 0.01 }, false, "BLOCKED_FIXTURE"],
  ["a pod's hose alone", { ...podSource, end_Pa: 5_100, tau_s: 0.1 }, false, "BLOCKED_FIXTURE"],
  ["a source that gives way", { ...tubSource, droop_Pa: 3_300, end_Pa: -4_900 }, true, "SOURCE_FAULT"],
  [
    "a source too low by a hair",
    { ...tubSource, source_Pa: -7_830, droop_Pa: 60, end_Pa: -7_760 },
    true,
    "SOURCE_FAULT",
  ],
  [
    "a regulator set too high",
    { ...tubSource, source_Pa: -9_500, end_Pa: -9_400, tau_s: 40 / 9 },
    false,
    "FILLED",
  ],
  [
    "a source that gives way to a leaking tub",
    { ...tubSource, droop_Pa: 1_700, end_Pa: -3_000 },
    true,
    "SOURCE_FAULT",
  ],
];

describe("a fill", () => {
  it.each(CASES)("of %s is told apart", (_, fixture, flowsOn, code) => {
    expect(codeOf(fixture, readingsOf(fixture, flowsOn))).toBe(code);
  });

  it.each(CASES)(
    "of %s is not taken for another because of one wild reading",
    (_, fixture, flowsOn, code) => {
      const readings = readingsOf(fixture, flowsOn);
      const { last } = watched(fixture, readings);
      fc.assert(
        fc.property(
          // Most of all among the last readings before the end, which decide.
          fc.oneof(fc.nat(readings.length - 1), fc.integer({ min: Math.max(0, last - 30), max: last })),
          fc.oneof(
            fc.double({ min: -2e4, max: 2e4, noNaN: true }),
            fc.constantFrom(0, fixture.rules.testPressure_Pa, fixture.source_Pa, 1e9, -1e9),
          ),
          (at, value) => {
            const wild = readings.map((reading, i) => (i === at ? { ...reading, value } : reading));
            expect(codeOf(fixture, wild)).toBe(code);
          },
        ),
        { numRuns: 150 },
      );
    },
  );

  it("is over with the third sample in a row inside the tolerance, its edge included", () => {
    const fixture = { ...tubSource, end_Pa: 0 };
    const at = (values: readonly number[]) =>
      values.map((value, i) => ({ channel: "leak_pressure", t_s: 3 * i, value, quality: "good" as const }));
    expect(
      seenOf(
        { ...fixture, rules: { ...tub, fillLongest_s: 99 } },
        at([-10, -7_000, -7_800, -7_850, -7_900, -8_000]),
      ),
    ).toMatchObject({
      end: "reached",
      rise_s: 12,
      pressure_Pa: -7_850,
    });
  });

  it("that went past its target says so, and by how much", () => {
    const seen: FillSeen = {
      end: "overfilled",
      rise_s: 4,
      pressure_Pa: -8_300,
      source_Pa: -9_000,
      sourceAtRest_Pa: -9_000,
    };
    expect(fillFinding(seen, tub)).toMatchObject({
      against: "station",
      reason: { code: "OVERFILLED", sentence: expect.stringContaining("-8.30 kPa, wanted -8.00 kPa") },
    });
  });

  it("that nobody saw the source of is no finding against the unit", () => {
    const seen: FillSeen = {
      end: "too_slow",
      rise_s: 8,
      pressure_Pa: -15,
      source_Pa: null,
      sourceAtRest_Pa: -8_240,
    };
    expect(fillFinding(seen, tub)).toMatchObject({ against: "station", reason: { code: "SOURCE_FAULT" } });
  });

  it("never counts as done when its time or a pressure is no number", () => {
    const done: FillSeen = {
      end: "reached",
      rise_s: 4,
      pressure_Pa: -7_900,
      source_Pa: -8_200,
      sourceAtRest_Pa: -8_240,
    };
    expect(fillFinding(done, tub)).toBeNull();
    expect(fillFinding({ ...done, rise_s: Number.NaN }, tub)).not.toBeNull();
    for (const key of ["pressure_Pa", "source_Pa", "sourceAtRest_Pa"] as const) {
      const seen: FillSeen = { ...done, end: "too_slow", [key]: Number.NaN };
      expect(fillFinding(seen, tub), key).not.toBeNull();
    }
  });

  it("in which the leak gauge shows the same value all the time finds the gauge, not a blocked hose", () => {
    const watcher = createWatcher({ watch: "fill", target_Pa: 5_000, tolerance_Pa: 150, longest_s: 2 });
    const outcomes = Array.from({ length: 120 }, (_, i) =>
      watcher.accept([{ channel: "leak_pressure", t_s: i / 50, value: 3, quality: "good" }]),
    );
    expect(outcomes.find((outcome) => outcome !== undefined)).toMatchObject({
      kind: "untrusted",
      reason: { code: "GAUGE_FROZEN" },
    });
  });
});

describe("the source before the fill", () => {
  const CLOSED = { testPressure_Pa: -8_000, fastest_Pa_s: 4_000, gaugeFloor_Pa: 2 };

  it.each([
    [-7_800, null],
    [-7_799, "SOURCE_FAULT"],
    [-9_000, null],
    [0, "SOURCE_FAULT"],
    [8_240, "SOURCE_FAULT"],
    [Number.NaN, "SOURCE_FAULT"],
  ])("at %d Pa for a body to be brought to -7.8 kPa at least: %s", (source_Pa, code) => {
    expect(sourceFinding(source_Pa, tub)?.reason.code ?? null).toBe(code);
  });

  it("is read for as long as a valve that passes needs to show, and as often as asked", () => {
    const watcher = createWatcher({ watch: "valve_trial", sourceReadings: 3, body: CLOSED });
    const reading = (channel: string, t_s: number, value: number) =>
      watcher.accept([{ channel, t_s, value, quality: "good" }]);
    expect(reading("source_pressure", 0, -8_240)).toBeUndefined();
    for (const i of [1, 2, 3, 4]) {
      expect(reading("leak_pressure", i * 0.02 - 0.01, i)).toBeUndefined();
      expect(reading("source_pressure", i * 0.02 - 0.005, 1e9)).toBeUndefined();
    }
    expect(reading("source_pressure", 0.08, -8_238)).toMatchObject({
      kind: "valve_trial",
      trial: { source_Pa: [-8_240, 1e9, 1e9, 1e9, 1e9, -8_238], body_Pa_s: expect.closeTo(50, 6) },
    });
  });
});
