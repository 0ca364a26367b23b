import { dot } from "../fit/column-algebra.ts";
import { fillDecay, fillDecayAndDerivative } from "../fit/exponential.ts";
import { type GaugeNoise, Whitener } from "../fit/gauge-noise.ts";
import { lackOfFit } from "../fit/lack-of-fit.ts";
import { fitSeparable, type NonlinearColumn, type SeparableFit } from "../fit/variable-projection.ts";
import { isolatedWildReadings } from "../fit/wild-readings.ts";
import type { SettleCalibration } from "./settle-calibration.ts";

/** Gauge pressures of a shut body; times since it was shut off, rising, any spacing. */
export interface DecayCurve {
  readonly t_s: ArrayLike<number>;
  readonly pressure_Pa: ArrayLike<number>;
}

/** What is known before the curve is looked at. */
export type DecayKnowledge = Pick<
  SettleCalibration,
  | "testPressure_Pa"
  | "tau_s"
  | "tauSpread_s"
  | "heat_Pa"
  | "heatSpread_Pa"
  | "slow_Pa"
  | "slowSpread_Pa"
  | "slowTau_s"
  | "noise"
>;

export interface DecayFit {
  /** What the leak does to the pressure while the body is at test pressure; positive when pressure rises. */
  readonly slope_Pa_s: number;
  /** Standard uncertainty of the slope: the curve's noise and what the calibration leaves open. */
  readonly slopeUncertainty_Pa_s: number;
  readonly tau_s: number;
  readonly heat_Pa: number;
  readonly slow_Pa: number;
  /** Pressure with heat and slow part gone, at the last sample. */
  readonly restPressure_Pa: number;
  /** Change of ln(slope) for a change of the leak's pressure exponent. */
  readonly exponentSensitivity: number;
  readonly samples: number;
  /** Wild readings that were not used. */
  readonly leftOut: number;
  /** Noise found against the noise calibrated; 1 when alike. */
  readonly noiseRatio: number;
  /** Chance that a right model leaves residuals as patterned as these, or parameters as far from the calibration. */
  readonly fitProbability: number;
}

export interface DecayOptions {
  /** Leak flow grows with this power of the pressure difference: 0.5 orifice, 1 capillary at small differences. */
  readonly pressureExponent: number;
  /** Spreads of the calibration are widened by this factor: for a body unlike those it was made for. */
  readonly loosening?: number;
}

/** Part of the test pressure below which a body counts as empty. */
const LEAST_KEPT = 1e-3;
/** A curve shorter than this has too little to say. */
export const LEAST_SAMPLES = 20;
/** A residual this many standard deviations off is a wild reading: one in 150,000 by chance. */
const WILD_DEVIATIONS = 4.5;
/** Median size of a standard normal deviate. */
const MEDIAN_OF_NORMAL = 0.6745;
/** More wild readings than a few, and than this part of all, are not left out. */
const FEW_WILD = 2;
const MOST_WILD_PART = 0.02;
/** Each fit shows wild readings that a wilder one hid; this many fits in all. */
const MOST_FITS = 4;

/**
 * Fits heat, slow part and leak together: p(t) = c + s L(t) + heat exp(-t/tau) + slow exp(-t/slowTau), where L is the time
 * at test pressure that leaks as much as the body did, L(t) = integral of (p/p_test)^exponent. Priors on tau, heat and
 * slow part from the calibration; weights from the gauge's noise, wandering part included; isolated wild readings left out.
 * @throws RangeError for fewer than 20 samples at times of their own
 */
export function fitDecay(curve: DecayCurve, knowledge: DecayKnowledge, options: DecayOptions): DecayFit {
  const usable = usablePlaces(curve.t_s, new Set()).length;
  if (usable < LEAST_SAMPLES)
    throw new RangeError(`A leak's curve needs ${LEAST_SAMPLES} samples, got ${usable}.`);
  const most = Math.max(FEW_WILD, MOST_WILD_PART * usable);
  const found = isolatedWildReadings(curve.pressure_Pa, spreadOf(knowledge.noise));
  const wild = found.size > most ? new Set<number>() : found;
  const first = fitOnce(curve, knowledge, options, wild);
  const leftOutFirst = wild.size;
  let fitted = first;
  for (let fits = 1; ; fits++) {
    const late = wildResiduals(fitted);
    if (late.length === 0) return answer(fitted, knowledge, wild.size);
    // So many are no accident but a wrong model or a bad gauge: all stay, and the lack of fit says so.
    if (fits === MOST_FITS || wild.size + late.length > most) return answer(first, knowledge, leftOutFirst);
    for (const place of late) wild.add(place);
    fitted = fitOnce(curve, knowledge, options, wild);
  }
}

interface Fitted {
  readonly fit: SeparableFit;
  readonly samples: Samples;
  readonly loosening: number;
  readonly exponentSensitivity: number;
}

function fitOnce(
  curve: DecayCurve,
  knowledge: DecayKnowledge,
  { pressureExponent, loosening = 1 }: DecayOptions,
  leftOut: ReadonlySet<number>,
): Fitted {
  const samples = usableSamples(curve, knowledge.testPressure_Pa, pressureExponent, leftOut);
  const { t_s } = samples;
  const n = t_s.length;
  // The last two rows hold what is known of the heat and of the slow part.
  const y = new Float64Array(n + 2);
  y.set(samples.pressure_Pa);
  const ones = new Float64Array(n + 2).fill(1, 0, n);
  const leak = new Float64Array(n + 2);
  leak.set(samples.leakTime_s);
  const slow = new Float64Array(n + 2);
  fillDecay(t_s, 1 / knowledge.slowTau_s, slow);
  const whitener = new Whitener(t_s, knowledge.noise);
  whitener.applyToBoth(y, ones);
  whitener.applyToBoth(leak, slow);
  const heatSpread_Pa = knowledge.heatSpread_Pa * loosening;
  const slowSpread_Pa = knowledge.slowSpread_Pa * loosening;
  y[n] = knowledge.heat_Pa / heatSpread_Pa;
  y[n + 1] = knowledge.slow_Pa / slowSpread_Pa;
  slow[n + 1] = 1 / slowSpread_Pa;
  const heat: NonlinearColumn = {
    start: Math.log(knowledge.tau_s),
    prior: {
      mean: Math.log(knowledge.tau_s),
      deviation: (knowledge.tauSpread_s * loosening) / knowledge.tau_s,
    },
    fill(logTau, column, derivative) {
      fillDecayAndDerivative(t_s, Math.exp(-logTau), column, derivative);
      whitener.applyToBoth(column, derivative);
      column[n] = 1 / heatSpread_Pa;
      column[n + 1] = 0;
      derivative.fill(0, n);
    },
  };
  const linear = [ones, leak, slow];
  const fit = fitSeparable(y, { linear, nonlinear: [heat] });
  const slower = new Float64Array(n + 2);
  slower.set(samples.slowerTime_s);
  whitener.apply(slower);
  return { fit, samples, loosening, exponentSensitivity: slopeTaken(slower, fit, linear, heat) };
}

/** The slope that the fit would find, per unit, in a column that its model lacks: to first order, whitened as the rest. */
function slopeTaken(
  lacking: Float64Array,
  { covariance, amplitudes, parameters }: SeparableFit,
  linear: readonly Float64Array[],
  heat: NonlinearColumn,
): number {
  const column = new Float64Array(lacking.length);
  const derivative = new Float64Array(lacking.length);
  heat.fill(parameters[0] ?? Number.NaN, column, derivative);
  const along = [...linear, column].map((it) => dot(it, lacking));
  along.push(dot(derivative, lacking) * (amplitudes[0] ?? Number.NaN));
  return along.reduce((sum, value, j) => sum + value * (covariance[1]?.[j] ?? Number.NaN), 0);
}

/** The samples that are fitted, in long arrays. */
interface Samples {
  /** Place in the curve of each. */
  readonly places: Int32Array;
  readonly t_s: Float64Array;
  /** Above the offset, which keeps the numbers small. */
  readonly pressure_Pa: Float64Array;
  readonly offset_Pa: number;
  readonly leakTime_s: Float64Array;
  /** By how much the leak time shrinks for a larger exponent: its derivative, sign changed. */
  readonly slowerTime_s: Float64Array;
}

function usableSamples(
  curve: DecayCurve,
  testPressure_Pa: number,
  pressureExponent: number,
  leftOut: ReadonlySet<number>,
): Samples {
  const places = usablePlaces(curve.t_s, leftOut);
  const n = places.length;
  const t_s = new Float64Array(n);
  const above_Pa = new Float64Array(n);
  const logLost = new Float64Array(n);
  const offset_Pa = curve.pressure_Pa[places[n - 1] as number] as number;
  for (let i = 0; i < n; i++) {
    const place = places[i] as number;
    const pressure_Pa = curve.pressure_Pa[place] as number;
    const lost = -Math.log(Math.max(pressure_Pa / testPressure_Pa, LEAST_KEPT));
    t_s[i] = curve.t_s[place] as number;
    above_Pa[i] = pressure_Pa - offset_Pa;
    logLost[i] = lost;
  }
  return {
    places,
    t_s,
    pressure_Pa: above_Pa,
    offset_Pa,
    ...leakTimes_s(t_s, logLost, pressureExponent),
  };
}

/** L(t) from the first sample on, by the trapezoidal rule, and its derivative with respect to the exponent. */
function leakTimes_s(
  t_s: Float64Array,
  logLost: Float64Array,
  pressureExponent: number,
): Pick<Samples, "leakTime_s" | "slowerTime_s"> {
  const pace = new Float64Array(t_s.length);
  fillDecay(logLost, pressureExponent, pace);
  const leakTime_s = new Float64Array(t_s.length);
  const slowerTime_s = new Float64Array(t_s.length);
  let leaked_s = 0;
  let slower_s = 0;
  let slowing = (pace[0] as number) * (logLost[0] as number);
  for (let i = 1; i < t_s.length; i++) {
    const half_s = ((t_s[i] as number) - (t_s[i - 1] as number)) / 2;
    const slowed = slowing;
    slowing = (pace[i] as number) * (logLost[i] as number);
    leaked_s += ((pace[i] as number) + (pace[i - 1] as number)) * half_s;
    slower_s += (slowing + slowed) * half_s;
    leakTime_s[i] = leaked_s;
    slowerTime_s[i] = slower_s;
  }
  return { leakTime_s, slowerTime_s };
}

function usablePlaces(t_s: ArrayLike<number>, leftOut: ReadonlySet<number>): Int32Array {
  const places = new Int32Array(t_s.length);
  const areAllIn = leftOut.size === 0;
  let n = 0;
  let last_s = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < t_s.length; i++) {
    const t = t_s[i] as number;
    // Lines that arrived in one burst may carry one time: the first of them counts.
    if (!(t > last_s) || !(areAllIn || !leftOut.has(i))) continue;
    places[n++] = i;
    last_s = t;
  }
  return places.subarray(0, n);
}

function answer(fitted: Fitted, knowledge: DecayKnowledge, leftOut: number): DecayFit {
  const { fit, samples, loosening } = fitted;
  const { leakTime_s, offset_Pa } = samples;
  const n = leakTime_s.length;
  const [constant_Pa = Number.NaN, slope_Pa_s = Number.NaN, slow_Pa = Number.NaN] = fit.linear;
  const heat_Pa = fit.amplitudes[0] ?? Number.NaN;
  const logTau = fit.parameters[0] ?? Number.NaN;
  const deviation = (at: number) => Math.sqrt(fit.covariance[at]?.[at] ?? Number.NaN);
  // Covariance holds constant, slope, slow part, heat, ln tau in this order.
  const known = [
    { found: slow_Pa - knowledge.slow_Pa, spread: knowledge.slowSpread_Pa * loosening, left: deviation(2) },
    { found: heat_Pa - knowledge.heat_Pa, spread: knowledge.heatSpread_Pa * loosening, left: deviation(3) },
    {
      found: logTau - Math.log(knowledge.tau_s),
      spread: (knowledge.tauSpread_s * loosening) / knowledge.tau_s,
      left: deviation(4),
    },
  ];
  const { noiseRatio, probability } = lackOfFit(
    fit.residuals.subarray(0, n),
    known.map(({ found, spread }) => found / spread),
    // Constant and slope, and of the rest as much as the curve added to what was known.
    known.reduce((sum, { spread, left }) => sum + 1 - (left / spread) ** 2, 2),
  );
  // A noisier gauge than the calibrated one is no better known for having been quiet once.
  const scale = Math.max(1, noiseRatio);
  return {
    slope_Pa_s,
    slopeUncertainty_Pa_s: deviation(1) * scale,
    tau_s: Math.exp(logTau),
    heat_Pa,
    slow_Pa,
    restPressure_Pa: offset_Pa + constant_Pa + slope_Pa_s * (leakTime_s[n - 1] as number),
    exponentSensitivity: fitted.exponentSensitivity,
    samples: n,
    leftOut,
    noiseRatio,
    // What is no number is no fit either.
    fitProbability: fit.converged && probability >= 0 ? probability : 0,
  };
}

/** Places of the residuals that are too large, but for those that one more than twice as large may have dragged along. */
function wildResiduals({ fit, samples: { places } }: Fitted): number[] {
  const sizes = fit.residuals.slice(0, places.length);
  let largest = 0;
  for (let i = 0; i < sizes.length; i++) {
    const size = Math.abs(sizes[i] as number);
    sizes[i] = size;
    if (size > largest) largest = size;
  }
  if (largest <= WILD_DEVIATIONS) return [];
  // On a gauge noisier than it was, tails are no wild readings.
  const deviation = Math.max(1, medianOf(sizes) / MEDIAN_OF_NORMAL);
  if (largest <= WILD_DEVIATIONS * deviation) return [];
  const least = Math.max(WILD_DEVIATIONS * deviation, largest / 2);
  return Array.from(places).filter((_, i) => (sizes[i] as number) >= least);
}

function medianOf(values: Float64Array): number {
  return values.slice().sort()[values.length >> 1] as number;
}

function spreadOf({ white_Pa, wander_Pa }: GaugeNoise): number {
  return Math.hypot(white_Pa, wander_Pa);
}
