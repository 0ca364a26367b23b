import { fitLine, type LineFit } from "./line-fit.ts";
import { type BudgetLine, budgetLine, combinedUncertainty, rectangular } from "./uncertainty.ts";

/** The house reference of leak rates: 20 degC and 101.325 kPa. */
const REFERENCE_TEMPERATURE_K = 293.15;
const REFERENCE_PRESSURE_PA = 101_325;

/**
 * Drift of the room that a gauge-pressure decay cannot tell from a leak: 1 K/h felt by the gas in full, and 1 hPa/h of
 * the barometer (common practice, no source; both are a quiet factory's bounds, taken as rectangular).
 */
const ROOM_DRIFT_K_PER_S = 1 / 3600;
const BAROMETER_DRIFT_PA_PER_S = 100 / 3600;

/** Gas flow through a leak grows with pressure between p^0.5 (orifice) and p^1 (capillary) at small differences. */
const PRESSURE_EXPONENT = 0.75;
const PRESSURE_EXPONENT_HALF_WIDTH = 0.25;

/** Below this part of the test pressure a rate measured says little of the rate at the test pressure. */
const LEAST_PRESSURE_KEPT = 0.5;

export interface LeakConditions {
  /** Gauge pressure the leak rate is asked for; its sign says pressure or suction. */
  readonly testPressure_Pa: number;
  /** Unit and fixture together, with standard uncertainties. */
  readonly unitVolume_m3: number;
  readonly unitVolumeUncertainty_m3: number;
  readonly fixtureVolume_m3: number;
  readonly fixtureVolumeUncertainty_m3: number;
  /** Largest leak of the closed fixture itself, at the house reference. */
  readonly fixtureLeakBound_m3_s: number;
  /** Relative standard uncertainty of the gauge's slope. */
  readonly gaugeSlopeUncertainty: number;
  readonly ambientPressure_Pa: number;
  readonly ambientTemperature_K: number;
  readonly ambientTemperatureUncertainty_K: number;
}

export type LeakMeasurement =
  | { readonly kind: "measured"; readonly leak: LeakRate }
  /** Too little of the test pressure was left to measure at: an emptied body shows no slope, and is the opposite of tight. */
  | { readonly kind: "lost"; readonly pressureKept: number }
  | {
      readonly kind: "void";
      readonly code: "TOO_FEW_SAMPLES" | "GAUGE_FROZEN" | "NOT_A_LEAK";
      readonly sentence: string;
    };

export interface LeakRate {
  /** Positive when the test pressure is being lost, at 20 degC and 101.325 kPa. */
  readonly value_m3_s: number;
  readonly uncertainty_m3_s: number;
  readonly budget: readonly BudgetLine[];
  readonly meanPressure_Pa: number;
  readonly samples: number;
}

/**
 * Leak rate from the pressure decay after settling: regression slope of gauge pressure against time, turned into a rate
 * at reference conditions, q = (V / p_ref) (T_ref / T) |dp/dt|, and carried from the pressure measured at to the test pressure.
 * The fit's uncertainty is widened for correlated residuals (first-order autoregression), and the difference of the
 * slopes of the two halves is carried as what settling has left.
 * @param t_s times of the samples, in order
 * @param pressure_Pa gauge pressure of the unit, as many
 * @returns the rate; that the body lost its pressure before; or why the curve gives no answer: fewer than 20 samples, a reading
 * that never moves, or a pressure that moves the wrong way beyond its uncertainty
 * @see ideal gas amount balance at fixed volume, as in 40 CFR 1065.644; JCGM 100:2008 for the budget
 */
export function measureLeakRate(
  t_s: ArrayLike<number>,
  pressure_Pa: ArrayLike<number>,
  conditions: LeakConditions,
): LeakMeasurement {
  const n = t_s.length;
  if (n < 20) {
    return {
      kind: "void",
      code: "TOO_FEW_SAMPLES",
      sentence: `Only ${n} pressure samples came in the measuring time; 20 are needed.`,
    };
  }
  if (isConstant(pressure_Pa)) {
    return {
      kind: "void",
      code: "GAUGE_FROZEN",
      sentence: `The leak gauge showed the same value ${n} times in a row.`,
    };
  }
  const fit = fitLine(t_s, pressure_Pa);
  const meanPressure_Pa = fit.intercept + fit.slope * midOf(t_s);
  const sign = conditions.testPressure_Pa < 0 ? 1 : -1;
  const loss_Pa_s = sign * fit.slope;

  const volume_m3 = conditions.unitVolume_m3 + conditions.fixtureVolume_m3;
  const T_K = conditions.ambientTemperature_K;
  const perSlope = (volume_m3 / REFERENCE_PRESSURE_PA) * (REFERENCE_TEMPERATURE_K / T_K);
  const pressureKept = meanPressure_Pa / conditions.testPressure_Pa;
  if (!(pressureKept >= LEAST_PRESSURE_KEPT)) return { kind: "lost", pressureKept };
  const toTestPressure = 1 / pressureKept;
  const scale = toTestPressure ** PRESSURE_EXPONENT;
  const value_m3_s = loss_Pa_s * perSlope * scale;

  const absolute_Pa = conditions.ambientPressure_Pa + meanPressure_Pa;
  const budget = [
    budgetLine("fit", fit.slopeUncertainty * correlationFactor(fit), "Pa/s", perSlope * scale),
    budgetLine("settling left", rectangular(halvesDiffer(t_s, pressure_Pa) / 2), "Pa/s", perSlope * scale),
    budgetLine("gauge slope", conditions.gaugeSlopeUncertainty, "1", value_m3_s),
    budgetLine("unit volume", conditions.unitVolumeUncertainty_m3, "m3", value_m3_s / volume_m3),
    budgetLine("fixture volume", conditions.fixtureVolumeUncertainty_m3, "m3", value_m3_s / volume_m3),
    budgetLine("gas temperature", conditions.ambientTemperatureUncertainty_K, "K", -value_m3_s / T_K),
    budgetLine(
      "test pressure",
      rectangular(PRESSURE_EXPONENT_HALF_WIDTH),
      "1",
      value_m3_s * Math.log(toTestPressure),
    ),
    budgetLine(
      "room temperature drift",
      rectangular(ROOM_DRIFT_K_PER_S),
      "K/s",
      (absolute_Pa / T_K) * perSlope,
    ),
    budgetLine("barometer drift", rectangular(BAROMETER_DRIFT_PA_PER_S), "Pa/s", perSlope),
    budgetLine("fixture leak", rectangular(conditions.fixtureLeakBound_m3_s), "m3/s", 1),
  ];
  const uncertainty_m3_s = combinedUncertainty(budget);
  if (value_m3_s + 4 * uncertainty_m3_s < 0) {
    return {
      kind: "void",
      code: "NOT_A_LEAK",
      sentence:
        "The pressure moved away from ambient, which no leak does: the room, the barometer or the gauge drifts.",
    };
  }
  return {
    kind: "measured",
    leak: { value_m3_s, uncertainty_m3_s, budget, meanPressure_Pa, samples: n },
  };
}

/**
 * Rate that the source must be feeding when a unit does not reach its pressure: what the source's flow would fill in the
 * time, less what it did. An order of magnitude for the inspector, never judged.
 * @returns m3/s at the house reference
 */
export function estimateGrossLeak(fillRate_Pa_s: number, volume_m3: number, temperature_K: number): number {
  return (
    (volume_m3 / REFERENCE_PRESSURE_PA) * (REFERENCE_TEMPERATURE_K / temperature_K) * Math.abs(fillRate_Pa_s)
  );
}

function correlationFactor(fit: LineFit): number {
  const rho = Math.min(Math.max(fit.lagOneCorrelation, 0), 0.99);
  return Math.sqrt((1 + rho) / (1 - rho));
}

function halvesDiffer(t_s: ArrayLike<number>, pressure_Pa: ArrayLike<number>): number {
  const half = Math.floor(t_s.length / 2);
  const first = fitLine(sliced(t_s, 0, half), sliced(pressure_Pa, 0, half));
  const second = fitLine(sliced(t_s, half, t_s.length), sliced(pressure_Pa, half, t_s.length));
  return Math.abs(first.slope - second.slope);
}

function sliced(values: ArrayLike<number>, from: number, to: number): number[] {
  return Array.prototype.slice.call(values, from, to);
}

function isConstant(values: ArrayLike<number>): boolean {
  for (let i = 1; i < values.length; i++) if (values[i] !== values[0]) return false;
  return true;
}

function midOf(t_s: ArrayLike<number>): number {
  return ((t_s[0] as number) + (t_s[t_s.length - 1] as number)) / 2;
}
