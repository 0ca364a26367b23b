import type { LeakMethod } from "../../../limits/model.ts";
import { hasStoodStill } from "../fit/standstill.ts";
import {
  type BudgetInput,
  type BudgetLine,
  budgetOf,
  combinedUncertainty,
  rectangular,
} from "../fit/uncertainty.ts";
import { type DecayCurve, LEAST_SAMPLES } from "./decay-fit.ts";
import { fittedSlope } from "./fitted-slope.ts";
import { fixedTimerSlope } from "./fixed-timer.ts";
import {
  type HowMeasured,
  type LeakSlope,
  leakPerSlope_m3_Pa,
  PRESSURE_EXPONENT,
  PRESSURE_EXPONENT_HALF_WIDTH,
  type SlopeOutcome,
  type SlopeVoid,
} from "./leak-slope.ts";
import { BAROMETER_DRIFT_PA_PER_S, ROOM_DRIFT_K_PER_S } from "./room-drift.ts";
import type { SettleCalibration } from "./settle-calibration.ts";

/** Below this part of the test pressure a rate measured says little of the rate at the test pressure. */
const LEAST_PRESSURE_KEPT = 0.5;

export interface LeakConditions {
  /** Gauge pressure the leak rate is asked for; its sign says pressure or suction. */
  readonly testPressure_Pa: number;
  /** Unit and fixture together, and what makes it uncertain. */
  readonly volume_m3: number;
  readonly volumeComponents: readonly VolumeComponent[];
  /** Largest leak of the closed fixture itself, at the house reference; counts where no settle calibration knows it better. */
  readonly fixtureLeakBound_m3_s: number;
  /** Relative standard uncertainty of the gauge's slope. */
  readonly gaugeSlopeUncertainty: number;
  readonly ambientPressure_Pa: number;
  readonly ambientTemperature_K: number;
  readonly ambientTemperatureUncertainty_K: number;
  /** What the tight reference has taught; null where nobody has studied it. */
  readonly settle: SettleCalibration | null;
  /** How long this body's fill took; null where it is not known. */
  readonly fill_s: number | null;
}

export interface VolumeComponent {
  readonly component: string;
  readonly estimate_m3: number;
  /** Standard uncertainty. */
  readonly uncertainty_m3: number;
}

export type LeakMeasurement =
  | { readonly kind: "measured"; readonly leak: LeakRate }
  /** Too little of the test pressure was left to measure at: an emptied body shows no slope, and is the opposite of tight. */
  | { readonly kind: "lost"; readonly pressureKept: number }
  | { readonly kind: "void"; readonly code: LeakVoid; readonly sentence: string };

export type LeakVoid = SlopeVoid | "GAUGE_FROZEN" | "NOT_A_LEAK";

export interface LeakRate {
  /** Positive when the test pressure is being lost, at 20 degC and 101.325 kPa. */
  readonly value_m3_s: number;
  readonly uncertainty_m3_s: number;
  readonly budget: readonly BudgetLine[];
  /** The budget's two kinds: what a leak of any size has, and what grows with it. */
  readonly constantUncertainty_m3_s: number;
  readonly relativeUncertainty: number;
  readonly how: HowMeasured;
}

/**
 * Leak rate from the pressure of a shut body: the leak's slope by the method asked for, less what the fixture itself
 * loses, turned into a rate at reference conditions, q = (V / p_ref) (T_ref / T) |dp/dt|, at the test pressure.
 * @param curve samples of the measuring time only, in order; times since the body was shut off
 * @returns the rate with its budget; that the body lost its pressure before; or why the curve gives no answer
 * @see ideal gas amount balance at fixed volume, as in 40 CFR 1065.644; JCGM 100:2008 for the budget
 */
export function measureLeakRate(
  curve: DecayCurve,
  method: LeakMethod,
  conditions: LeakConditions,
): LeakMeasurement {
  const n = distinctTimes(curve.t_s);
  if (n < LEAST_SAMPLES) {
    const sentence = `Only ${n} pressure samples came in the measuring time; ${LEAST_SAMPLES} are needed.`;
    return { kind: "void", code: "TOO_FEW_SAMPLES", sentence };
  }
  if (hasStoodStill(curve.pressure_Pa)) {
    const sentence = "The leak gauge stood still while it measured: switch it off and on, and check it.";
    return { kind: "void", code: "GAUGE_FROZEN", sentence };
  }
  const pressureKept = middleOfLast(curve.pressure_Pa) / conditions.testPressure_Pa;
  if (!(pressureKept >= LEAST_PRESSURE_KEPT)) return { kind: "lost", pressureKept };
  const outcome = slopeBy(method, curve, conditions);
  if (outcome.kind === "void") return outcome;
  const leak = rateOf(outcome.slope, pressureKept, conditions, method);
  if (leak.value_m3_s + 4 * leak.uncertainty_m3_s < 0) {
    return {
      kind: "void",
      code: "NOT_A_LEAK",
      sentence:
        "The pressure moved away from ambient, which no leak does: the room, the barometer or the gauge drifts.",
    };
  }
  return { kind: "measured", leak };
}

function slopeBy(method: LeakMethod, curve: DecayCurve, conditions: LeakConditions): SlopeOutcome {
  return method.kind === "fitted"
    ? fittedSlope(curve, conditions)
    : fixedTimerSlope(curve, method, conditions);
}

function rateOf(
  slope: LeakSlope,
  pressureKept: number,
  conditions: LeakConditions,
  method: LeakMethod,
): LeakRate {
  const { volume_m3, ambientTemperature_K: T_K } = conditions;
  const perSlope = leakPerSlope_m3_Pa(volume_m3, T_K);
  const sign = conditions.testPressure_Pa < 0 ? 1 : -1;
  const fixture = fixtureLeak(conditions, method, perSlope);
  const whole_m3_s = sign * slope.slope_Pa_s * perSlope;
  const value_m3_s = whole_m3_s - fixture.estimate_m3_s;
  const absolute_Pa = conditions.ambientPressure_Pa + conditions.testPressure_Pa * pressureKept;
  const constant: BudgetInput[] = [
    ...slope.components.map(({ component, uncertainty_Pa_s }) => ({
      component,
      estimate: sign * slope.slope_Pa_s,
      uncertainty: uncertainty_Pa_s,
      unit: "Pa/s",
      sensitivity: perSlope,
    })),
    {
      component: "room temperature drift",
      estimate: 0,
      uncertainty: rectangular(ROOM_DRIFT_K_PER_S),
      unit: "K/s",
      sensitivity: (absolute_Pa / T_K) * perSlope,
    },
    {
      component: "barometer drift",
      estimate: 0,
      uncertainty: rectangular(BAROMETER_DRIFT_PA_PER_S),
      unit: "Pa/s",
      sensitivity: perSlope,
    },
    {
      component: "fixture leak",
      estimate: fixture.estimate_m3_s,
      uncertainty: fixture.uncertainty_m3_s,
      unit: "m3/s",
      sensitivity: -1,
    },
  ];
  // Sensitivities of a leak of 1; all of these are proportional to it.
  const relative: BudgetInput[] = [
    {
      component: "gauge slope",
      estimate: 1,
      uncertainty: conditions.gaugeSlopeUncertainty,
      unit: "1",
      sensitivity: 1,
    },
    ...conditions.volumeComponents.map(({ component, estimate_m3, uncertainty_m3 }) => ({
      component,
      estimate: estimate_m3,
      uncertainty: uncertainty_m3,
      unit: "m3",
      sensitivity: 1 / volume_m3,
    })),
    {
      component: "gas temperature",
      estimate: T_K,
      uncertainty: conditions.ambientTemperatureUncertainty_K,
      unit: "K",
      sensitivity: -1 / T_K,
    },
    {
      component: "pressure exponent",
      estimate: PRESSURE_EXPONENT,
      uncertainty: rectangular(PRESSURE_EXPONENT_HALF_WIDTH),
      unit: "1",
      sensitivity: slope.exponentSensitivity,
    },
  ];
  const scaled = relative.map((input) => ({ ...input, sensitivity: input.sensitivity * whole_m3_s }));
  const budget = budgetOf([...constant, ...scaled]);
  return {
    value_m3_s,
    uncertainty_m3_s: combinedUncertainty(budget),
    budget,
    constantUncertainty_m3_s: combinedUncertainty(budgetOf(constant)),
    relativeUncertainty: combinedUncertainty(budgetOf(relative)),
    how: slope.how,
  };
}

/** What fixture and tight reference lose by themselves, as learned; a bound from the station file where nobody has. */
function fixtureLeak(
  { settle, fixtureLeakBound_m3_s }: LeakConditions,
  method: LeakMethod,
  perSlope: number,
): { readonly estimate_m3_s: number; readonly uncertainty_m3_s: number } {
  if (!settle) return { estimate_m3_s: 0, uncertainty_m3_s: rectangular(fixtureLeakBound_m3_s) };
  const isGone = method.kind !== "fitted" && method.subtractsMeanCurve;
  return {
    estimate_m3_s: isGone ? 0 : settle.background_Pa_s * perSlope,
    uncertainty_m3_s: settle.backgroundUncertainty_Pa_s * perSlope,
  };
}

/** Readings at times of their own: lines that arrived in one burst may carry one time. */
function distinctTimes(t_s: ArrayLike<number>): number {
  let count = 0;
  let last_s = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < t_s.length; i++) {
    if (!((t_s[i] as number) > last_s)) continue;
    last_s = t_s[i] as number;
    count++;
  }
  return count;
}

/** The middle one of the last three: one wild reading must not look like an emptied body. */
function middleOfLast(values: ArrayLike<number>): number {
  const last = Array.prototype.slice.call(values, -3) as number[];
  return last.sort((a, b) => a - b)[1] ?? Number.NaN;
}
