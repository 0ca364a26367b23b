import type { LeakStep } from "../../limits/model.ts";
import type { Reason } from "./reason.ts";

/** How a fill ended, as the gauges of body and source saw it. Pressures are medians: one wild reading decides nothing. */
export interface FillEnd {
  readonly end: "reached" | "overfilled" | "too_slow";
  /** From hardly any pressure to the end. */
  readonly rise_s: number;
  readonly pressure_Pa: number;
  /** Of the source; null when it was not read. */
  readonly source_Pa: number | null;
}

/** The whole fill: the source before it was opened, and how it ended. */
export interface FillSeen extends FillEnd {
  readonly sourceAtRest_Pa: number;
}

/** What a fill says against the unit (fail) or against source and fixture (void). */
export interface FillFinding {
  readonly against: "unit" | "station";
  readonly reason: Reason;
}

type FillRules = Pick<LeakStep, "testPressure_Pa" | "fillTolerance_Pa" | "fillShortest_s" | "fillLongest_s">;

// The three parts below are common practice, no source.
/** Below this part of the test pressure a body holds hardly any: its opening is some six times the fill restrictor's. */
const HARDLY_ANY_PART = 0.03;
/** Below this part of the test pressure a source that is filling has given way. */
const SOURCE_HELD_PART = 0.95;
/**
 * A source this part of the test pressure below its rest gives air. The demo's regulators droop by 0.8 to 1.6 % under a
 * body that holds nothing; medians of 5 and 15 readings of a gauge with 4 Pa of noise differ by 2.5 Pa, a sixth of this.
 */
const FLOWING_DROOP_PART = 0.003;

/** @returns whether a body has taken hardly any of its test pressure, or the wrong sign of it */
export function isHardlyAny(pressure_Pa: number, testPressure_Pa: number): boolean {
  return !(pressure_Pa / testPressure_Pa >= HARDLY_ANY_PART);
}

/** @returns what is wrong with a source at rest that could not fill the unit, null when nothing is */
export function sourceFinding(sourceAtRest_Pa: number, step: FillRules): FillFinding | null {
  const least_Pa = step.testPressure_Pa - Math.sign(step.testPressure_Pa) * step.fillTolerance_Pa;
  if (sourceAtRest_Pa / least_Pa >= 1) return null;
  return sourceFault(
    `The source stands at ${kPa(sourceAtRest_Pa)} before the fill, which needs ${kPa(step.testPressure_Pa)}. Set its regulator or have its supply checked, then acknowledge.`,
  );
}

/**
 * Tells a unit that is open from a source that is weak and a fixture that is blocked. In doubt it speaks against the
 * station, which is void; null, the only way to a measurement, is a fill that arrived and took as long as a body takes.
 * @returns null when the unit is filled
 */
export function fillFinding(seen: FillSeen, step: FillRules): FillFinding | null {
  if (seen.end !== "too_slow") {
    // Negated, so that a time that is no number blocks too.
    if (!(seen.rise_s >= step.fillShortest_s)) return filledTooSoon(seen.rise_s, step.fillShortest_s);
    return seen.end === "reached" ? null : overfilled(seen.pressure_Pa, step.testPressure_Pa);
  }
  const { pressure_Pa, source_Pa, sourceAtRest_Pa } = seen;
  const { testPressure_Pa } = step;
  const isHeld = source_Pa !== null && source_Pa / testPressure_Pa >= SOURCE_HELD_PART;
  if (!isHeld) {
    const now = source_Pa === null ? "" : ` (from ${kPa(sourceAtRest_Pa)} to ${kPa(source_Pa)})`;
    return sourceFault(
      `The source did not hold its pressure while filling${now}. Check the regulator and the supply line, then acknowledge.`,
    );
  }
  const direction = Math.sign(testPressure_Pa);
  if (isHardlyAny(pressure_Pa, testPressure_Pa)) {
    const droop_Pa = direction * (sourceAtRest_Pa - source_Pa);
    return droop_Pa >= FLOWING_DROOP_PART * Math.abs(testPressure_Pa) ? NOT_SEALED : NOTHING_FLOWS;
  }
  // A body as high as its source is not what keeps the pressure down.
  if (direction * (source_Pa - pressure_Pa) <= step.fillTolerance_Pa) {
    return sourceFault(
      `The source stands at ${kPa(source_Pa)}, too low to bring the unit to ${kPa(testPressure_Pa)} in ${step.fillLongest_s} s. Set its regulator, then acknowledge.`,
    );
  }
  return {
    against: "unit",
    reason: {
      code: "GROSS_LEAK",
      sentence: `The unit came only to ${kPa(pressure_Pa)} of ${kPa(testPressure_Pa)} although the source is healthy: look for a lid not seated, a pinched gasket or a crack.`,
    },
  };
}

const NOT_SEALED: FillFinding = {
  against: "unit",
  reason: {
    code: "UNIT_NOT_SEALED",
    sentence:
      "Air flows, but the unit takes hardly any pressure: look for a missing gasket, a lid not seated or an open clamp. If the next unit does the same, have the fixture's seal checked.",
  },
};

const NOTHING_FLOWS: FillFinding = {
  against: "station",
  reason: {
    code: "BLOCKED_FIXTURE",
    sentence:
      "Hardly any pressure came, and no air flowed from the source: look for a kinked hose or a valve that did not open, then acknowledge.",
  },
};

function filledTooSoon(rise_s: number, shortest_s: number): FillFinding {
  return {
    against: "station",
    reason: {
      code: "BLOCKED_FIXTURE",
      sentence: `The pressure was there after ${rise_s.toFixed(1)} s, this body takes ${shortest_s} s or more: the gauge sees the hose and not the body, which may hold pressure or suction all the same. Look for a hose kinked or shut off behind the gauge, then acknowledge.`,
    },
  };
}

function overfilled(pressure_Pa: number, testPressure_Pa: number): FillFinding {
  return {
    against: "station",
    reason: {
      code: "OVERFILLED",
      sentence: `The unit went past its test pressure (${kPa(pressure_Pa)}, wanted ${kPa(testPressure_Pa)}). Set the source regulator lower.`,
    },
  };
}

function sourceFault(sentence: string): FillFinding {
  return { against: "station", reason: { code: "SOURCE_FAULT", sentence } };
}

function kPa(pressure_Pa: number): string {
  return `${(pressure_Pa / 1000).toFixed(2)} kPa`;
}
