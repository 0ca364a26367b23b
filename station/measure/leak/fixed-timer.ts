import { fitLine, type LineFit } from "../fit/line-fit.ts";
import { mean } from "../fit/mean.ts";
import { isolatedWildReadings, noiseOf } from "../fit/wild-readings.ts";
import { type DecayCurve, LEAST_SAMPLES } from "./decay-fit.ts";
import { PRESSURE_EXPONENT, type SlopeComponent, type SlopeOutcome } from "./leak-slope.ts";
import type { SettleCalibration } from "./settle-calibration.ts";
import { isSettling, ofOtherBodies, settlingLeft } from "./settling-left.ts";

export interface FixedTimer {
  readonly kind: "slope" | "difference";
  readonly subtractsMeanCurve: boolean;
}

/** The difference is taken between the means of this much of the curve at either end, at most. */
const END_WINDOW_s = 0.5;
const END_PART = 0.2;

/**
 * The leak's slope the usual way: after a fixed settling time, the regression slope of the pressure or the difference of
 * its ends, with the mean curve of the tight reference taken off before or not. What settling has left, and what other
 * bodies settle by unlike the reference, are components of their own; the fit's uncertainty is widened for correlated
 * residuals.
 * @param whole the measuring time's samples, times since the shut-off; a few wild readings in them are left out
 */
export function fixedTimerSlope(
  whole: DecayCurve,
  method: FixedTimer,
  {
    testPressure_Pa,
    settle,
  }: { readonly testPressure_Pa: number; readonly settle: SettleCalibration | null },
): SlopeOutcome {
  const curve = withoutWild(whole);
  const n = curve.t_s.length;
  if (method.subtractsMeanCurve && !settle) {
    return {
      kind: "void",
      code: "NOT_CALIBRATED",
      sentence: "There is no mean curve for this model on this station: run drumtight study settle.",
    };
  }
  if (whole.t_s.length < LEAST_SAMPLES)
    throw new RangeError(`A leak's curve needs ${LEAST_SAMPLES} samples, got ${whole.t_s.length}.`);
  const pressure_Pa = method.subtractsMeanCurve && settle ? lessMeanCurve(curve, settle) : curve.pressure_Pa;
  const mean_Pa = mean(curve.pressure_Pa);
  const toTestPressure = Math.max(testPressure_Pa / mean_Pa, 1e-3) ** PRESSURE_EXPONENT;
  const foundIn = (pressures_Pa: ArrayLike<number>): Found => {
    const line = fitLine(curve.t_s, pressures_Pa);
    return method.kind === "slope" ? bySlope(line) : byDifference(curve.t_s, pressures_Pa, line);
  };
  const slopeOf = (pressures_Pa: ArrayLike<number>) => foundIn(pressures_Pa).slope_Pa_s;
  const found = foundIn(pressure_Pa);
  const settles = settle !== null && isSettling(curve.t_s[0] as number, settle);
  const components: SlopeComponent[] = [
    found.component,
    settlingLeft({ t_s: curve.t_s, pressure_Pa }, slopeOf, settle, settles && !method.subtractsMeanCurve),
    ...(settle && (settles || method.subtractsMeanCurve) ? ofOtherBodies(curve.t_s, slopeOf, settle) : []),
  ];
  return {
    kind: "slope",
    slope: {
      slope_Pa_s: found.slope_Pa_s * toTestPressure,
      components: components.map(({ component, uncertainty_Pa_s }) => ({
        component,
        uncertainty_Pa_s: uncertainty_Pa_s * toTestPressure,
      })),
      exponentSensitivity: Math.log(testPressure_Pa / mean_Pa),
      how: {
        method: method.kind,
        mean_curve_subtracted: method.subtractsMeanCurve,
        from_s: curve.t_s[0] as number,
        to_s: curve.t_s[n - 1] as number,
        samples: n,
        left_out: whole.t_s.length - n,
      },
    },
  };
}

/** More wild readings than a few, and than this part of all, are no accident: they stay, and widen the uncertainty. */
const FEW_WILD = 2;
const MOST_WILD_PART = 0.02;

function withoutWild(curve: DecayCurve): DecayCurve {
  const wild = isolatedWildReadings(curve.pressure_Pa, noiseOf(curve.pressure_Pa));
  if (wild.size === 0 || wild.size > Math.max(FEW_WILD, MOST_WILD_PART * curve.t_s.length)) return curve;
  const kept = (values: ArrayLike<number>) =>
    Array.prototype.filter.call(values, (_: number, i: number) => !wild.has(i)) as number[];
  return { t_s: kept(curve.t_s), pressure_Pa: kept(curve.pressure_Pa) };
}

interface Found {
  readonly slope_Pa_s: number;
  readonly component: SlopeComponent;
}

function bySlope(line: LineFit): Found {
  const uncertainty_Pa_s = line.slopeUncertainty * correlationFactor(line);
  return { slope_Pa_s: line.slope, component: { component: "fit", uncertainty_Pa_s } };
}

function byDifference(t_s: ArrayLike<number>, pressure_Pa: ArrayLike<number>, line: LineFit): Found {
  const n = t_s.length;
  const length_s = (t_s[n - 1] as number) - (t_s[0] as number);
  const window_s = Math.min(END_WINDOW_s, END_PART * length_s);
  let first = 0;
  while ((t_s[first] as number) <= (t_s[0] as number) + window_s) first++;
  let last = n;
  while ((t_s[last - 1] as number) >= (t_s[n - 1] as number) - window_s) last--;
  const between_s = mean(slice(t_s, last, n)) - mean(slice(t_s, 0, first));
  const change_Pa = mean(slice(pressure_Pa, last, n)) - mean(slice(pressure_Pa, 0, first));
  const noise_Pa =
    line.residualDeviation * correlationFactor(line) * Math.sqrt(1 / first + 1 / Math.max(1, n - last));
  return {
    slope_Pa_s: change_Pa / between_s,
    component: { component: "difference", uncertainty_Pa_s: noise_Pa / between_s },
  };
}

/** Pressures without what the tight reference did at the same times; before and after the learned curve its ends hold. */
function lessMeanCurve({ t_s, pressure_Pa }: DecayCurve, { meanCurve }: SettleCalibration): number[] {
  const knots = meanCurve.t_s;
  const values = meanCurve.pressure_Pa;
  let k = 0;
  return Array.from({ length: t_s.length }, (_, i) => {
    const t = t_s[i] as number;
    while (k < knots.length - 2 && t > (knots[k + 1] as number)) k++;
    const [t0, t1] = [knots[k] as number, knots[k + 1] as number];
    const along = Math.min(1, Math.max(0, (t - t0) / (t1 - t0)));
    const mean_Pa = (values[k] as number) * (1 - along) + (values[k + 1] as number) * along;
    return (pressure_Pa[i] as number) - mean_Pa;
  });
}

function correlationFactor(fit: LineFit): number {
  const rho = Math.min(Math.max(fit.lagOneCorrelation, 0), 0.99);
  return Math.sqrt((1 + rho) / (1 - rho));
}

function slice(values: ArrayLike<number>, from: number, to: number): number[] {
  return Array.prototype.slice.call(values, from, to);
}
