import type { LeakStep } from "../../limits/model.ts";
import { median } from "./fill-watch.ts";
import type { Reason } from "./reason.ts";
import type { LeakEvidence } from "./unit-context.ts";

/** How a body was vented, as the leak gauge saw it. */
export interface VentSeen {
  /** Gauge pressure before the vent opened. */
  readonly from_Pa: number;
  /** From the command to open to the first of the readings near ambient. */
  readonly took_s: number;
}

type VentRules = Pick<LeakStep, "testPressure_Pa" | "ventShortest_s">;

/**
 * From less than this part of the test pressure a body is vented soon, and rightly so. From half of it, it takes two
 * thirds of the time: through an opening the root of a small pressure falls evenly.
 */
const WORTH_TIMING_PART = 0.5;
/** One wild reading at the end of a curve decides nothing. */
const READINGS_AT_END = 5;

/** @returns the pressure that the vent began with; NaN where no curve tells */
export function pressureBeforeVent_Pa({ measure, gross }: LeakEvidence): number {
  const last_mPa = (measure ?? gross)?.pressure_mPa.slice(-READINGS_AT_END) ?? [];
  return median(last_mPa) / 1000;
}

/**
 * Tells a body that is vented from a hose that is, shut off from its body after the fill: all that was measured is then the
 * hose's. In doubt (a number that is none) it speaks against the fixture.
 * @returns what stands against the fixture, null when the vent took as long as a body takes or had little to vent
 */
export function ventFinding({ from_Pa, took_s }: VentSeen, step: VentRules): Reason | null {
  if (from_Pa / step.testPressure_Pa < WORTH_TIMING_PART || took_s >= step.ventShortest_s) return null;
  const held = step.testPressure_Pa < 0 ? "suction" : "pressure";
  return {
    code: "BLOCKED_FIXTURE",
    sentence: `The gauge was vented in ${took_s.toFixed(2)} s, this body takes ${step.ventShortest_s} s or more: the hose was shut off from the body after the fill, and nothing measured counts. The body may still hold ${held}: keep hands and face away and relieve it by the local procedure. Look for a hose kinked or shut off behind the gauge, then acknowledge.`,
  };
}
