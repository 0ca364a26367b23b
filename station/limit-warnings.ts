import type { EarlyVerdictRule, LeakStep, ModelLimits } from "../limits/model.ts";
import { airflowWarnings } from "./airflow-warnings.ts";
import type { ModelCalibration } from "./cycle/attempt.ts";
import type { StationKnowledge } from "./cycle/characteristic-result.ts";
import { leakConditions } from "./cycle/leak-judging.ts";
import { type E2930Facts, type E2930Rule, e2930Unchecked, e2930Warnings } from "./measure/leak/e2930.ts";
import { foreseeLeak } from "./measure/leak/foreseen-leak.ts";
import { MOST_UNCERTAIN_TIGHT } from "./measure/leak/leak-looks.ts";
import { measuringTimeWarnings, ROOM_NOBODY_MEASURED } from "./measuring-time-warnings.ts";
import { ratingWarnings } from "./rating-warnings.ts";
import type { RoomForVerdicts } from "./room-for-verdicts.ts";

/** The station that a limit file is to be used at. */
export interface LimitStation {
  readonly knowledge: StationKnowledge;
  /** What was learned there of the limit file's model. */
  readonly calibration: ModelCalibration;
}

export interface LimitWarning {
  /** Name of the characteristic whose limit is meant; null for a step's own settings. */
  readonly characteristic: string | null;
  readonly rule: E2930Rule | RoomForVerdicts["rule"] | "rated pressure";
  readonly sentence: string;
}

export interface LimitWarnings {
  readonly warnings: readonly LimitWarning[];
  /** Rules that could not be looked at for want of a station or of a settle calibration, each once. */
  readonly unchecked: readonly E2930Rule[];
  /** Characteristics whose uncertainty at this station can't be foreseen from the limit file; left out without a station. */
  readonly not_foreseen?: readonly string[];
}

const COVERAGE_FACTOR = 2;

/**
 * What is doubtful about the limits of a file that is right in itself: the rules of ASTM E2930, a gas that has not come to
 * rest, an uncertainty that leaves a verdict no room, and pressures beyond what the body is rated for.
 * @param station null: only what the limit file alone tells is looked at
 */
export function limitWarnings(limits: ModelLimits, station: LimitStation | null): LimitWarnings {
  const known = limits.characteristics.flatMap(({ name, step: stepName, upper, lower, unit }) => {
    const step = limits.steps.find((candidate) => candidate.name === stepName);
    const limit_m3_s = upper ?? lower;
    if (step?.kind !== "leak" || limit_m3_s === undefined) return [];
    return [{ characteristic: name, facts: { unit, ...factsOf(limit_m3_s, step, limits, station) } }];
  });
  const airflow = station ? airflowWarnings(limits, station.knowledge) : null;
  return {
    warnings: [
      ...ratingWarnings(limits),
      ...known.flatMap(({ characteristic, facts }) =>
        e2930Warnings(facts).map((warning) => ({ characteristic, ...warning })),
      ),
      ...limits.steps.flatMap((step) =>
        step.kind === "leak" && station ? measuringTimeWarnings(step, limits, station) : [],
      ),
      ...(airflow?.warnings ?? []),
    ],
    ...(airflow ? { not_foreseen: airflow.notForeseen } : {}),
    unchecked: station?.calibration.settle
      ? []
      : [...new Set(known.flatMap(({ facts }) => e2930Unchecked(facts)))],
  };
}

function factsOf(
  limit_m3_s: number,
  step: LeakStep,
  limits: ModelLimits,
  station: LimitStation | null,
): Omit<E2930Facts, "unit"> {
  const { testPressure_Pa, measureLongest_s } = step;
  const stated = { limit_m3_s, testPressure_Pa, measureLongest_s };
  const gauge = station?.knowledge.channels.get("leak_pressure");
  const conditions =
    station &&
    leakConditions(
      step,
      { limits, calibration: station.calibration },
      { ambient: ROOM_NOBODY_MEASURED, phases: [] },
      station.knowledge,
    );
  if (!gauge || !conditions) {
    const unknown = { resolution_m3_s: null, expandedUncertainty_m3_s: null, slowDrift_m3_s: null };
    return { ...stated, ...unknown, volume_m3: limits.volume_m3 };
  }
  const foresee = (measureLongest_s: number) =>
    foreseeLeak(limit_m3_s, { ...step, measureLongest_s }, conditions, gauge.absolute);
  return {
    ...stated,
    ...foresee(measureLongest_s),
    earlyExpandedUncertainty_m3_s: step.earlyVerdict && earliest(step.earlyVerdict),
    volume_m3: conditions.volume_m3,
  };

  /** As uncertain as a value may be to be called tight by, or as the first look is, where that is better. */
  function earliest({ measureShortest_s }: EarlyVerdictRule): number {
    const most_m3_s = COVERAGE_FACTOR * MOST_UNCERTAIN_TIGHT * limit_m3_s;
    return Math.min(most_m3_s, foresee(measureShortest_s).expandedUncertainty_m3_s ?? most_m3_s);
  }
}
