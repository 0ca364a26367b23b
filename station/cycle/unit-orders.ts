import type { Levels } from "../../drivers/ports.ts";
import type { AirflowOrder } from "./airflow-readings.ts";
import type { ClosedBody } from "./curve-trust.ts";
import type { PointOrder } from "./point-watch.ts";
import type { RunUpOrder } from "./run-up-watch.ts";
import { airflowPoint, airflowStep, leakStep, type UnitContext } from "./unit-context.ts";
import type { LooksOrder, Observation } from "./watchers.ts";

/** Source off, vent open, motor off, no orifice open: what every way out of a test commands. */
export const SAFE_LEVELS: Levels = { source: false, isolate: false, vent: true, motor: false };

/** By the fan laws; test/published/fan-laws.test.ts. */
const SUCTION_PER_SPEED = 2;
/** Speed of a series motor with a fan answers to its voltage to about this power (common practice, no source), where the limit file does not say. */
const SERIES_MOTOR_PER_VOLTAGE = 0.55;

/** Medians of so many readings of the source, over both trials, leave a wild one and the gauge's noise alone. */
const SOURCE_READINGS = { first: 3, second: 2 };
/** A body that holds hardly any pressure stands where source and opening balance within half a second. */
export const VENT_TRIAL_s = 0.5;
/** Of the slowest fill's time: the last few percent of a fill, from a body that leaks little, take less. */
const COMPARE_PART = 0.5;

export function valveTrialOrder(context: UnitContext): Observation {
  const sourceReadings = context.sourceShut ? SOURCE_READINGS.second : SOURCE_READINGS.first;
  return { watch: "valve_trial", sourceReadings, body: closedBody(context) };
}

export function compareOrder(context: UnitContext): Extract<Observation, { watch: "comparison" }> {
  return { watch: "comparison", after_s: COMPARE_PART * leakStep(context).fillLongest_s };
}

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
  return {
    ...curveOrder(context, leakStep(context).measureLongest_s),
    closed: closedBody(context),
    ...(looks ? { looks } : {}),
  };
}

function closedBody(context: UnitContext): ClosedBody {
  const { testPressure_Pa, fillShortest_s } = leakStep(context);
  return {
    testPressure_Pa,
    fastest_Pa_s: Math.abs(testPressure_Pa) / fillShortest_s,
    gaugeFloor_Pa: context.scatterFloor("leak_pressure"),
  };
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

export function runUpOrder(context: UnitContext): { readonly watch: "run_up" } & RunUpOrder {
  const { inrushLongest_s, runUpLongest_s } = airflowStep(context);
  return { watch: "run_up", ...airflowOrder(context, runUpLongest_s), inrushLongest_s };
}

export function pointOrder(context: UnitContext): { readonly watch: "point" } & PointOrder {
  const { name, knownWithin, samplesLeast, holdLongest_s } = airflowPoint(context);
  return {
    watch: "point",
    ...airflowOrder(context, holdLongest_s),
    point: name,
    knownWithin,
    samplesLeast,
    earlier: context.runUp,
  };
}

function airflowOrder(context: UnitContext, longest_s: number): AirflowOrder {
  const step = airflowStep(context);
  const { steady, runningAbove_W, powerHighest_W, supplyVoltage_V, supplyTolerance_V } = step;
  return {
    steady,
    runningAbove_W,
    powerHighest_W,
    supplyVoltage_V,
    supplyTolerance_V,
    suctionPerVoltage: SUCTION_PER_SPEED * (step.correction?.speedPerVoltage ?? SERIES_MOTOR_PER_VOLTAGE),
    flowChannel: context.flowChannel,
    isInletClosed: context.orificeOutputs.get(airflowPoint(context).orifice) === null,
    scatterFloor: context.scatterFloor,
    longest_s,
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
