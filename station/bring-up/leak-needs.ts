import type { LeakStep, ModelLimits } from "../../limits/model.ts";
import { HOUSE_REFERENCE } from "../../limits/quantity.ts";
import type { ModelCalibration } from "../cycle/attempt.ts";
import type { StationKnowledge } from "../cycle/characteristic-result.ts";
import { leakConditions } from "../cycle/leak-judging.ts";
import { combinationNoise, lineWeights } from "../measure/fit/combination-noise.ts";
import type { GaugeNoise } from "../measure/fit/gauge-noise.ts";
import { LEAST_SAMPLES } from "../measure/leak/decay-fit.ts";
import { pressureLoss_Pa_s } from "../measure/leak/e2930.ts";
import { foreseeLeak } from "../measure/leak/foreseen-leak.ts";

/** What a gauge was found to be like, at rest. */
export interface GaugeFacts {
  readonly noise: GaugeNoise;
  readonly rate_Hz: number;
  /** What its last digit is worth; null where that was not seen. */
  readonly resolution_Pa: number | null;
}

/** What one leak limit asks of the gauge, and what this gauge gives. */
export interface LeakNeed {
  readonly model: string;
  readonly characteristic: string;
  readonly limit_m3_s: number;
  readonly measureLongest_s: number;
  /** Standard uncertainty of the leak rate from this gauge's noise alone, after the longest measuring time. */
  readonly noise_m3_s: number;
  /** A tenth of the limit: ASTM E2930, abstract, as `limits check --station` reads it. */
  readonly noiseMost_m3_s: number;
  /** What a leak at the limit changes the pressure by in that time. */
  readonly change_Pa: number;
  /** A tenth of that change: the last digit may be worth no more. */
  readonly resolutionMost_Pa: number;
  readonly readings: number;
  readonly readingsLeast: number;
  /** Readings up to the first look of an early verdict; null where there is none. */
  readonly earlyReadings: number | null;
  /** The longest time constant whose lag behind the fill no longer counts when measuring begins. */
  readonly lagMost_s: number;
}

const TENTH = 0.1;
const ROOM = { ...HOUSE_REFERENCE, relativeHumidity: 0.5 };

/** What the leak limits of a model ask of the gauge that measures them; none where the model has no leak limit. */
export function leakNeeds(
  limits: ModelLimits,
  station: { readonly knowledge: StationKnowledge; readonly calibration: ModelCalibration },
  gauge: GaugeFacts,
): LeakNeed[] {
  return limits.characteristics.flatMap(({ name, step: stepName, upper, lower }) => {
    const step = limits.steps.find((candidate) => candidate.name === stepName);
    const limit_m3_s = upper ?? lower;
    if (step?.kind !== "leak" || limit_m3_s === undefined || !(limit_m3_s > 0)) return [];
    const need = needOf(name, limit_m3_s, step, limits, station, gauge);
    return need ? [need] : [];
  });
}

function needOf(
  characteristic: string,
  limit_m3_s: number,
  step: LeakStep,
  limits: ModelLimits,
  { knowledge, calibration }: { knowledge: StationKnowledge; calibration: ModelCalibration },
  gauge: GaugeFacts,
): LeakNeed | null {
  const conditions = leakConditions(step, { limits, calibration }, { ambient: ROOM, phases: [] }, knowledge);
  if (!conditions) return null;
  const { settle_s, measureLongest_s, testPressure_Pa, earlyVerdict } = step;
  const readings = Math.floor(gauge.rate_Hz * measureLongest_s);
  const loss_Pa_s = pressureLoss_Pa_s(limit_m3_s, conditions.volume_m3, conditions.ambientTemperature_K);
  const asLeak_m3 = limit_m3_s / loss_Pa_s;
  const measured = Math.max(LEAST_SAMPLES, readings);
  const { settle } = conditions;
  // With what was learned of the body the station's own fit tells; without, the line through the readings.
  const noise_m3_s =
    settle && step.method.kind === "fitted"
      ? foreseeLeak(
          limit_m3_s,
          step,
          { ...conditions, settle: { ...settle, noise: gauge.noise } },
          0,
          measured,
        ).resolution_m3_s
      : combinationNoise(
          times(measured, measureLongest_s),
          lineWeights(times(measured, measureLongest_s)),
          gauge.noise,
        ) * asLeak_m3;
  const change_Pa = loss_Pa_s * measureLongest_s;
  return {
    model: limits.model,
    characteristic,
    limit_m3_s,
    measureLongest_s,
    noise_m3_s,
    noiseMost_m3_s: TENTH * limit_m3_s,
    change_Pa,
    resolutionMost_Pa: TENTH * change_Pa,
    readings,
    readingsLeast: LEAST_SAMPLES,
    earlyReadings: earlyVerdict ? Math.floor(gauge.rate_Hz * earlyVerdict.measureShortest_s) : null,
    lagMost_s: longestLag_s(Math.abs(testPressure_Pa), settle_s, TENTH * loss_Pa_s),
  };
}

function times(count: number, time_s: number): number[] {
  return Array.from({ length: count }, (_, i) => (i / (count - 1)) * time_s);
}

/**
 * A gauge with a first-order lag that was left behind by the whole test pressure at the end of the fill still creeps by
 * p / tau exp(-settle / tau) when measuring begins; the longest tau for which that is at most this much.
 * @example longestLag_s(8000, 6, 0.05) // about 0.45 s
 */
function longestLag_s(pressure_Pa: number, settle_s: number, most_Pa_s: number): number {
  const creep_Pa_s = (tau_s: number) => (pressure_Pa / tau_s) * Math.exp(-settle_s / tau_s);
  let shortest = 1e-3;
  // It rises with tau up to the settling time.
  let longest = settle_s;
  if (creep_Pa_s(longest) <= most_Pa_s) return longest;
  for (let i = 0; i < 60; i++) {
    const middle = (shortest + longest) / 2;
    if (creep_Pa_s(middle) <= most_Pa_s) shortest = middle;
    else longest = middle;
  }
  return shortest;
}
