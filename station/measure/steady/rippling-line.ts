import { at, dot, dots, solveSymmetric, takeAway } from "../fit/column-algebra.ts";
import { mean } from "../fit/mean.ts";

/** A straight line with one ripple on it, told apart. */
export interface RipplingLine {
  /** Of the line in the middle of the readings' times. */
  readonly middle: number;
  readonly slope: number;
  /** Standard uncertainties for independent residuals, what line and ripple may take for one another included. */
  readonly middleUncertainty: number;
  readonly slopeUncertainty: number;
  /** Correlation of neighbouring residuals. */
  readonly lagOneCorrelation: number;
}

/** Fewer periods in the window are not told from a trend. */
const LEAST_PERIODS = 1.5;
/** Frequencies are tried in steps of this part of one over the window's length. */
const STEP = 0.2;
/** Fewer readings than this hold no ripple worth telling apart. */
const LEAST_READINGS = 16;
/** The ripple must explain so many times more of the residuals' squares, each of its three parameters, than noise would. */
const LEAST_RATIO = 20;
/** Middle, slope, and of the ripple amplitude, phase and frequency. */
export const RIPPLING_PARAMETERS = 5;

/**
 * Least squares of a line and a sine wave of the frequency that explains most of what the line leaves: mains ripple, and
 * its slow beat with the gauge's own rate, swing evenly about the line and need not be averaged out over many periods.
 * @param t_s times, rising
 * @param line the best straight line without a ripple: value at time 0, and slope
 * @returns null where no ripple stands out from the noise, or the window is shorter than one and a half of its periods
 * @see harmonic regression; Lomb, Astrophysics and Space Science 39 (1976) 447 (from memory) for the search
 */
export function ripplingLine(
  t_s: readonly number[],
  values: readonly number[],
  line: { readonly intercept: number; readonly slope: number },
): RipplingLine | null {
  const n = t_s.length;
  const first_s = t_s[0] ?? 0;
  const span_s = (t_s[n - 1] ?? 0) - first_s;
  if (n < LEAST_READINGS || !(span_s > 0)) return null;
  const middle_s = mean(t_s);
  const residuals = Float64Array.from(
    values,
    (value, i) => value - line.intercept - line.slope * (t_s[i] as number),
  );
  const squares = dot(residuals, residuals);
  const angular_s = strongest(t_s, residuals, span_s);
  const times = Float64Array.from(t_s, (t) => t - middle_s);
  const columns = [
    new Float64Array(n).fill(1),
    times,
    times.map((t) => Math.cos(angular_s * t)),
    times.map((t) => Math.sin(angular_s * t)),
  ];
  const normal = columns.map((column) => dots(columns, column));
  const found = solveSymmetric(normal, dots(columns, residuals));
  const ofMiddle = solveSymmetric(normal, [1, 0, 0, 0]);
  const ofSlope = solveSymmetric(normal, [0, 1, 0, 0]);
  if (!found || !ofMiddle || !ofSlope) return null;
  const squaresLeft = takeAway(residuals, columns, found);
  const variance = squaresLeft / (n - RIPPLING_PARAMETERS);
  if (!((squares - squaresLeft) / 3 > LEAST_RATIO * variance)) return null;
  return {
    middle: line.intercept + line.slope * middle_s + at(found, 0),
    slope: line.slope + at(found, 1),
    middleUncertainty: Math.sqrt(variance * at(ofMiddle, 0)),
    slopeUncertainty: Math.sqrt(variance * at(ofSlope, 1)),
    lagOneCorrelation:
      squaresLeft > 0 ? dot(residuals.subarray(1), residuals.subarray(0, n - 1)) / squaresLeft : 0,
  };
}

/** Angular frequency, per second, of the wave that explains most; between one and a half periods and half the rate. */
function strongest(t_s: readonly number[], residuals: Float64Array, span_s: number): number {
  const n = t_s.length;
  const step = (2 * Math.PI * STEP) / span_s;
  const least = (2 * Math.PI * LEAST_PERIODS) / span_s;
  const count = Math.max(1, Math.floor((Math.PI * (n - 1)) / span_s / step - least / step) + 1);
  const cosines = new Float64Array(count);
  const sines = new Float64Array(count);
  for (let i = 0; i < n; i++) {
    const t = (t_s[i] as number) - (t_s[0] as number);
    const residual = residuals[i] as number;
    // From one frequency to the next by the addition theorem: two sines a reading, not two a frequency.
    const turnCos = Math.cos(step * t);
    const turnSin = Math.sin(step * t);
    let c = residual * Math.cos(least * t);
    let s = residual * Math.sin(least * t);
    for (let k = 0; k < count; k++) {
      cosines[k] = (cosines[k] as number) + c;
      sines[k] = (sines[k] as number) + s;
      const next = c * turnCos - s * turnSin;
      s = s * turnCos + c * turnSin;
      c = next;
    }
  }
  let best = 0;
  const powerAt = (k: number) => (cosines[k] as number) ** 2 + (sines[k] as number) ** 2;
  for (let k = 1; k < count; k++) if (powerAt(k) > powerAt(best)) best = k;
  return least + best * step;
}
