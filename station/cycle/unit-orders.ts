import type { Levels } from "../../drivers/ports.ts";
import { airflowPoint, airflowStep, leakStep, type UnitContext } from "./unit-context.ts";
import type { LooksOrder, Observation } from "./watchers.ts";

/** Source off, vent open, motor off, no orifice open: what every way out of a test commands. */
export const SAFE_LEVELS: Levels = { source: false, isolate: false, vent: true, motor: false };

export function fillOrder(context: UnitContext): Observation {
  const { testPressure_Pa, fillTolerance_Pa, fillLongest_s } = leakStep(context);
  return {
    watch: "fill",
    target_Pa: testPressure_Pa,
    tolerance_Pa: fillTolerance_Pa,
    longest_s: fillLongest_s,
  };
}

export function curveOrder(
  context: UnitContext,
  duration_s: number,
): Extract<Observation, { watch: "curve" }> {
  return { watch: "curve", origin_s: context.evidence.start_s, duration_s };
}

export function measureOrder(context: UnitContext): Observation {
  const looks = looksOrder(context);
  return { ...curveOrder(context, leakStep(context).measureLongest_s), ...(looks ? { looks } : {}) };
}

/** A reference piece proves the station, so it gets the whole measuring time. */
function looksOrder(context: UnitContext): LooksOrder | null {
  const { attempt, evidence } = context;
  const step = leakStep(context);
  if (step.earlyVerdict === null || attempt.reference) return null;
  const lookAt = context.newLook(attempt, evidence, step);
  const { measureShortest_s: first_s, lookEvery_s: every_s } = step.earlyVerdict;
  return lookAt && { first_s, every_s, lookAt };
}

export function steadyOrder(context: UnitContext, samples: number): Observation {
  const step = airflowStep(context);
  return {
    watch: "steady",
    within: step.steady.within,
    window_s: step.steady.window_s,
    samples,
    runningAbove_W: step.runningAbove_W,
    supplyVoltage_V: step.supplyVoltage_V,
    supplyTolerance_V: step.supplyTolerance_V,
  };
}

export function orificeLevels(context: UnitContext): Levels {
  const output = context.orificeOutputs.get(airflowPoint(context).orifice);
  return { ...allOrificesShut(context), ...(output ? { [output]: true } : {}) };
}

export function allOrificesShut(context: UnitContext): Levels {
  const levels: Record<string, boolean> = {};
  for (const output of context.orificeOutputs.values()) if (output) levels[output] = false;
  return levels;
}
