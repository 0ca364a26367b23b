import { type DecayCurve, type DecayFit, fitDecay, LEAST_SAMPLES } from "./decay-fit.ts";
import { PRESSURE_EXPONENT, type SlopeOutcome } from "./leak-slope.ts";
import type { SettleCalibration } from "./settle-calibration.ts";

/**
 * Below the first chance residuals say that the model is not right. What is tried then must fit better than that: wider
 * spreads let heat and leak take up a knock or a draught in part, and what is left looks less patterned.
 */
const LEAST_PROBABILITY = { asCalibrated: 1e-3, otherwise: 0.05 };
/**
 * One tight piece can't show the slow parts that other bodies have and it has not: this part of the heat is taken for their
 * standard deviation, besides what the calibration states (common practice, no source). In ten seconds such a slow part
 * looks like a leak, and nothing in the curve gives it away.
 */
export const UNSEEN_SLOW_PART = 0.01;
/** A gauge this many times noisier than when it was calibrated has changed; its readings are not to be trusted. */
const MOST_NOISE_RATIO = 4;

/**
 * What is tried, in this order, until the model fits: as calibrated; a body that heats and creeps less usually; and the
 * same from later on, when whatever the model does not know has faded.
 */
const ATTEMPTS: readonly { readonly widened: number; readonly laterPart: number }[] = [
  { widened: 1, laterPart: 0 },
  { widened: 4, laterPart: 0 },
  { widened: 4, laterPart: 0.25 },
  { widened: 4, laterPart: 0.5 },
];

/**
 * The leak's slope by fitting heat, slow part and leak together.
 * @param curve since the shut-off
 * @returns void where no attempt fits: the body deforms, warms or is disturbed in a way that was not learned
 */
export function fittedSlope(curve: DecayCurve, calibration: SettleCalibration | null): SlopeOutcome {
  if (!calibration) {
    return {
      kind: "void",
      code: "NOT_CALIBRATED",
      sentence: "There is no settle calibration for this model on this station: run drumtight study settle.",
    };
  }
  const unseen_Pa = UNSEEN_SLOW_PART * calibration.heat_Pa;
  const knowledge = { ...calibration, slowSpread_Pa: Math.hypot(calibration.slowSpread_Pa, unseen_Pa) };
  for (const { widened, laterPart } of ATTEMPTS) {
    const part = later(curve, laterPart);
    if (part.t_s.length < LEAST_SAMPLES) break;
    const fit = fitDecay(part, knowledge, { pressureExponent: PRESSURE_EXPONENT, loosening: widened });
    const least = widened === 1 ? LEAST_PROBABILITY.asCalibrated : LEAST_PROBABILITY.otherwise;
    if (fit.fitProbability < least || fit.noiseRatio > MOST_NOISE_RATIO) continue;
    return { kind: "slope", slope: slopeOf(part, fit, widened) };
  }
  return {
    kind: "void",
    code: "MODEL_DOES_NOT_FIT",
    sentence:
      "The pressure did not settle as this model's bodies do. Look for a draught, a warm or soft body, a knock or a noisy gauge, then test the unit again; if it keeps coming, learn the settling anew.",
  };
}

function slopeOf(part: DecayCurve, fit: DecayFit, widened: number) {
  return {
    slope_Pa_s: fit.slope_Pa_s,
    components: [{ component: "fit", uncertainty_Pa_s: fit.slopeUncertainty_Pa_s }],
    exponentSensitivity: fit.exponentSensitivity,
    how: {
      method: "fitted" as const,
      from_s: part.t_s[0] as number,
      to_s: part.t_s[part.t_s.length - 1] as number,
      samples: fit.samples,
      left_out: fit.leftOut,
      noise_ratio: fit.noiseRatio,
      fit_probability: fit.fitProbability,
      tau_s: fit.tau_s,
      ...(widened === 1 ? {} : { spreads_widened: widened }),
    },
  };
}

function later(curve: DecayCurve, part: number): DecayCurve {
  if (part === 0) return curve;
  const first = curve.t_s[0] as number;
  const from_s = first + part * ((curve.t_s[curve.t_s.length - 1] as number) - first);
  let start = 0;
  while ((curve.t_s[start] as number) < from_s) start++;
  return {
    t_s: Array.prototype.slice.call(curve.t_s, start),
    pressure_Pa: Array.prototype.slice.call(curve.pressure_Pa, start),
  };
}
