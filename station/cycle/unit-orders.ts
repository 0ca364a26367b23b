import type { Levels } from "../../drivers/ports.ts";
import { airflowPoint, airflowStep, type UnitContext } from "./unit-context.ts";
import type { Observation } from "./watchers.ts";

/** Source off, vent open, motor off, no orifice open: what every way out of a test commands. */
export const SAFE_LEVELS: Levels = { source: false, isolate: false, vent: true, motor: false };

export function steadyOrder(context: UnitContext, samples: number): Observation {
  const step = airflowStep(context);
  return {
    watch: "steady",
    within: step.steadyWithin,
    window_s: step.steadyWindow_s,
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
