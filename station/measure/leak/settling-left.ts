import { combinationNoise, lineWeights } from "../fit/combination-noise.ts";
import { fitLine } from "../fit/line-fit.ts";
import { rectangular } from "../fit/uncertainty.ts";
import type { DecayCurve } from "./decay-fit.ts";
import { UNSEEN_SLOW_PART } from "./fitted-slope.ts";
import type { SlopeComponent } from "./leak-slope.ts";
import type { SettleCalibration } from "./settle-calibration.ts";

/** What a method makes of pressures at the curve's times: linear in them, so that it tells what a shape adds to a slope. */
export type SlopeOf = (pressure_Pa: ArrayLike<number>) => number;

/** Before a body was studied its time constant is taken for this part of the time since the shut-off (common practice, no source). */
const TAU_OF_TIME = 1 / 3;
/** Of the halves' difference, so many of its standard uncertainties may be the gauge's noise. */
const NOISE_FACTOR = 2;
/** After so many time constants a body counts as settled (common practice, no source). */
const SETTLED_AFTER = 5;

/** @returns whether heat and slow part, where nobody takes them off, still count after this time */
export function isSettling(from_s: number, { tau_s }: SettleCalibration): boolean {
  return from_s < SETTLED_AFTER * tau_s;
}

/**
 * What settling has left in a slope, seen in how the two halves of the curve differ by d: of an exponential exp(-t/tau) they
 * differ by D, and the method makes L of it, so that K d, K = L / D, is left in the slope. With mean slopes over halves of h
 * each, K = coth(h / (2 tau)) / 2, which is tau / h for a heat that hardly fades in the curve. Of d counts what it exceeds
 * twice its own noise by. Where learned heat and slow part are left in, what they make of the slope counts at least. Both are errors that nobody corrects, and count in full. Half of d always
 * counts, as bounds of what a curve that looks settled may still hide.
 * @see Phillips, Eberhardt and Parry, J. Res. NIST 102 (1997) 577: an uncorrected bias as a component of its own (from memory)
 */
export function settlingLeft(
  { t_s, pressure_Pa }: DecayCurve,
  slopeOf: SlopeOf,
  calibration: SettleCalibration | null,
  isLeftIn: boolean,
): SlopeComponent {
  const differ_Pa_s = halvesDiffer(t_s, pressure_Pa);
  const from_s = t_s[0] as number;
  const decay = (tau_s: number) => shapeOf(t_s, (t) => Math.exp((from_s - t) / tau_s));
  const carried_Pa_s = (tau_s: number) => {
    if (!(tau_s > 0)) return 0;
    const shape = decay(tau_s);
    const noise_Pa_s = calibration
      ? combinationNoise(t_s, halvesWeights(t_s), calibration.noise)
      : noiseOfHalves(t_s, pressure_Pa, shape);
    const beyond_Pa_s = Math.max(0, Math.abs(differ_Pa_s) - NOISE_FACTOR * noise_Pa_s);
    const perDifference = Math.abs(slopeOf(shape) / halvesDiffer(t_s, shape));
    return Number.isFinite(perDifference) ? perDifference * beyond_Pa_s : 0;
  };
  const learned_Pa_s = () => {
    if (!calibration || !isLeftIn) return 0;
    const { heat_Pa, tau_s, slow_Pa, slowTau_s } = calibration;
    return slopeOf(shapeOf(t_s, (t) => heat_Pa * Math.exp(-t / tau_s) + slow_Pa * Math.exp(-t / slowTau_s)));
  };
  const uncertainty_Pa_s = Math.max(
    rectangular(Math.abs(differ_Pa_s) / 2),
    carried_Pa_s(calibration?.tau_s ?? TAU_OF_TIME * from_s),
    Math.abs(learned_Pa_s()),
  );
  return { component: "settling left", uncertainty_Pa_s };
}

/**
 * What other bodies' heat and slow part leave in a slope though the tight reference's were taken off: how they spread from body
 * to body, carried to the slope. A body of longer time constant has also been left more heat by its fill: steady for the fill
 * time F, it leaves heat that goes with tau (1 - exp(-F / tau)), the response of a first-order lag to a ramp.
 */
export function ofOtherBodies(
  t_s: ArrayLike<number>,
  slopeOf: SlopeOf,
  calibration: SettleCalibration,
): SlopeComponent[] {
  const { fill_s, tau_s, tauSpread_s, heat_Pa, heatSpread_Pa, slowSpread_Pa, slowTau_s } = calibration;
  const slopeOfDecay = (time_s: number) => slopeOf(shapeOf(t_s, (t) => Math.exp(-t / time_s)));
  const heatAt_Pa = (time_s: number) =>
    (heat_Pa * time_s * Math.expm1(-fill_s / time_s)) / (tau_s * Math.expm1(-fill_s / tau_s));
  const [slow_s, quick_s] = [tau_s + tauSpread_s, Math.max(tau_s - tauSpread_s, tau_s / 2)];
  // Half of what both sides of the spread differ by: late in a decay its time constant is far from linear.
  const byTau_Pa_s =
    (heatAt_Pa(slow_s) * slopeOfDecay(slow_s) - heatAt_Pa(quick_s) * slopeOfDecay(quick_s)) / 2;
  const withTau_Pa = (heatAt_Pa(slow_s) - heatAt_Pa(quick_s)) / 2;
  const moreHeat_Pa = Math.sqrt(Math.max(0, heatSpread_Pa ** 2 - withTau_Pa ** 2));
  const unseen_Pa = UNSEEN_SLOW_PART * heat_Pa;
  return [
    { component: "time constant of other bodies", uncertainty_Pa_s: Math.abs(byTau_Pa_s) },
    { component: "heat of other bodies", uncertainty_Pa_s: Math.abs(moreHeat_Pa * slopeOfDecay(tau_s)) },
    {
      component: "slow part of other bodies",
      uncertainty_Pa_s: Math.abs(Math.hypot(slowSpread_Pa, unseen_Pa) * slopeOfDecay(slowTau_s)),
    },
  ];
}

/** Straightness of a difference can't be seen; how the halves' slopes differ tells it. */
function halvesDiffer(t_s: ArrayLike<number>, pressure_Pa: ArrayLike<number>): number {
  const half = Math.floor(t_s.length / 2);
  const first = fitLine(slice(t_s, 0, half), slice(pressure_Pa, 0, half));
  const second = fitLine(slice(t_s, half, t_s.length), slice(pressure_Pa, half, t_s.length));
  return first.slope - second.slope;
}

/** The halves' difference is this combination of the readings. */
function halvesWeights(t_s: ArrayLike<number>): number[] {
  const half = Math.floor(t_s.length / 2);
  const first = lineWeights(slice(t_s, 0, half));
  const second = lineWeights(slice(t_s, half, t_s.length));
  return [...first, ...second.map((weight) => -weight)];
}

/** Standard uncertainty of the halves' difference where nobody has learned the noise: from residuals of line and decay. */
function noiseOfHalves(
  t_s: ArrayLike<number>,
  pressure_Pa: ArrayLike<number>,
  shape: ArrayLike<number>,
): number {
  const bent = residuals(t_s, shape);
  const left = residuals(t_s, pressure_Pa);
  const size = dot(left, bent, 0) / dot(bent, bent, 0);
  const residual = left.map((value, i) => value - size * (bent[i] as number));
  const squares = dot(residual, residual, 0);
  const n = residual.length;
  let inflation = 1;
  for (let lag = 1; lag < n / 4; lag++) {
    const correlation = dot(residual, residual, lag) / squares;
    if (!(correlation > 0)) break;
    inflation += 2 * correlation;
  }
  const weights = halvesWeights(t_s);
  return Math.sqrt((squares / (n - 3)) * inflation * dot(weights, weights, 0));
}

function residuals(t_s: ArrayLike<number>, values: ArrayLike<number>): number[] {
  const { intercept, slope } = fitLine(t_s, values);
  return Array.from(
    { length: t_s.length },
    (_, i) => (values[i] as number) - intercept - slope * (t_s[i] as number),
  );
}

/** Sum of products, the second's readings so many later. */
function dot(one: readonly number[], other: readonly number[], lag: number): number {
  let sum = 0;
  for (let i = 0; i + lag < one.length; i++) sum += (one[i] as number) * (other[i + lag] as number);
  return sum;
}

function shapeOf(t_s: ArrayLike<number>, at: (t: number) => number): number[] {
  return Array.from({ length: t_s.length }, (_, i) => at(t_s[i] as number));
}

function slice(values: ArrayLike<number>, from: number, to: number): number[] {
  return Array.prototype.slice.call(values, from, to);
}
