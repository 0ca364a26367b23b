import type { LeakStep } from "../../../limits/model.ts";
import { combinationNoise, lineWeights } from "../fit/combination-noise.ts";
import { LEAST_SAMPLES } from "./decay-fit.ts";
import { pressureLoss_Pa_s, type ResolutionSource } from "./e2930.ts";
import { type LeakConditions, measureLeakRate } from "./leak-rate.ts";
import { PRESSURE_EXPONENT } from "./leak-slope.ts";
import type { SettleCalibration } from "./settle-calibration.ts";

export interface ForeseenLeak {
  /** Standard uncertainty that the gauge leaves in a leak rate at the longest measuring time. */
  readonly resolution_m3_s: number;
  readonly resolutionFrom: ResolutionSource;
  /** Of a leak rate at the limit, k = 2; null where such a leak could not be measured. */
  readonly expandedUncertainty_m3_s: number | null;
  /** What the slow part moves during the measuring time, as a leak rate; null before it was learned. */
  readonly slowDrift_m3_s: number | null;
  /** What the heat moves during a fixed timer's measuring time, as a leak rate; null before it was learned, and where it is taken out. */
  readonly heatDrift_m3_s: number | null;
  /** What heat and slow part change the pressure by during the measuring time; null before they were learned. */
  readonly settlingChange_Pa: number | null;
  readonly isFitted: boolean;
}

export type ForeseenStep = Pick<LeakStep, "testPressure_Pa" | "settle_s" | "measureLongest_s" | "method">;

const COVERAGE_FACTOR = 2;

/**
 * What a leak step will be able to tell of a unit exactly at the limit, before any was tested: the curve that the
 * settle calibration foretells, measured as a unit's would be.
 * @param gaugeUncertainty_Pa standard uncertainty of one reading; taken for the noise before that was learned
 * @param readings in the measuring time: as few as there may be, unless the gauge's rate is known, and more leave less noise
 */
export function foreseeLeak(
  limit_m3_s: number,
  step: ForeseenStep,
  conditions: LeakConditions,
  gaugeUncertainty_Pa: number,
  readings = LEAST_SAMPLES,
): ForeseenLeak {
  const { settle: calibration } = conditions;
  const asLeak_m3 = 1 / pressureLoss_Pa_s(1, conditions.volume_m3, conditions.ambientTemperature_K);
  const t_s = Array.from(
    { length: readings },
    (_, i) => step.settle_s + (i / (readings - 1)) * step.measureLongest_s,
  );
  const pressure_Pa = t_s.map((t) => foretold_Pa(t, limit_m3_s / asLeak_m3, step, calibration));
  const measured = measureLeakRate({ t_s, pressure_Pa }, step.method, conditions);
  const leak = measured.kind === "measured" ? measured.leak : null;
  const noise_m3_s = slopeNoise_Pa_s(t_s, step.method.kind, calibration, gaugeUncertainty_Pa) * asLeak_m3;
  // A fit takes its uncertainty from the calibrated noise; a line takes it from residuals, and here there are none.
  const fit =
    step.method.kind === "fitted" ? leak?.budget.find(({ component }) => component === "fit") : undefined;
  return {
    resolution_m3_s: fit?.contribution ?? noise_m3_s,
    resolutionFrom: calibration ? "learned noise" : "stated uncertainty",
    expandedUncertainty_m3_s:
      leak && COVERAGE_FACTOR * Math.hypot(leak.uncertainty_m3_s, fit ? 0 : noise_m3_s),
    slowDrift_m3_s: calibration && (slowChange_Pa(step, calibration) / step.measureLongest_s) * asLeak_m3,
    heatDrift_m3_s:
      calibration && isLeftIn(step.method)
        ? (heatChange_Pa(step, calibration) / step.measureLongest_s) * asLeak_m3
        : null,
    settlingChange_Pa: calibration && heatChange_Pa(step, calibration) + slowChange_Pa(step, calibration),
    isFitted: step.method.kind === "fitted",
  };
}

/** Gauge pressure of a body at the limit, t_s after it was shut off at test pressure. */
function foretold_Pa(
  t_s: number,
  loss_Pa_s: number,
  { testPressure_Pa }: ForeseenStep,
  calibration: SettleCalibration | null,
): number {
  // dk/dt = -rate k^x, k the part of the test pressure kept.
  const rate_per_s = loss_Pa_s / Math.abs(testPressure_Pa);
  const power = 1 - PRESSURE_EXPONENT;
  const kept = Math.max(0, 1 - power * rate_per_s * t_s) ** (1 / power);
  if (!calibration) return testPressure_Pa * kept;
  const { heat_Pa, tau_s, slow_Pa, slowTau_s } = calibration;
  return testPressure_Pa * kept + heat_Pa * Math.expm1(-t_s / tau_s) + slow_Pa * Math.expm1(-t_s / slowTau_s);
}

/** What a gauge's noise leaves in the slope of a line or of a difference. */
function slopeNoise_Pa_s(
  t_s: readonly number[],
  method: LeakStep["method"]["kind"],
  calibration: SettleCalibration | null,
  gaugeUncertainty_Pa: number,
): number {
  if (!calibration) {
    return combinationNoise(t_s, endWeights(t_s), {
      white_Pa: gaugeUncertainty_Pa,
      wander_Pa: 0,
      wanderTau_s: 1,
    });
  }
  return combinationNoise(t_s, method === "slope" ? lineWeights(t_s) : endWeights(t_s), calibration.noise);
}

function endWeights(t_s: readonly number[]): number[] {
  const last = t_s.length - 1;
  const span_s = (t_s[last] ?? 0) - (t_s[0] ?? 0);
  return t_s.map((_, i) => (i === 0 ? -1 / span_s : i === last ? 1 / span_s : 0));
}

/** What these decays change in the measuring time, signed as their amplitude. */
function slowChange_Pa(step: ForeseenStep, { slow_Pa, slowTau_s }: SettleCalibration): number {
  return fades(step, slow_Pa, slowTau_s);
}

function heatChange_Pa(step: ForeseenStep, { heat_Pa, tau_s }: SettleCalibration): number {
  return fades(step, heat_Pa, tau_s);
}

function fades({ settle_s, measureLongest_s }: ForeseenStep, size_Pa: number, tau_s: number): number {
  return size_Pa * (Math.exp(-settle_s / tau_s) - Math.exp(-(settle_s + measureLongest_s) / tau_s));
}

function isLeftIn(method: LeakStep["method"]): boolean {
  return method.kind !== "fitted" && !method.subtractsMeanCurve;
}
