import { type DecayCurve, type DecayFit, fitDecay } from "./decay-fit.ts";
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
 * What is tried, in this order, until the model fits: as calibrated; a body that heats and creeps less usually. Never a
 * later part of the curve alone: what it leaves out may have leaked.
 */
const WIDENED = [1, 4] as const;
/** However alike the runs were, bodies are not known better than to this part of their time constant and heat. */
const LEAST_SPREAD = 0.02;

/**
 * The leak's slope by fitting heat, slow part and leak together.
 * @param curve since the shut-off
 * @returns void where no attempt fits: the body deforms, warms or is disturbed in a way that was not learned
 */
export function fittedSlope(
  curve: DecayCurve,
  {
    settle: calibration,
    fill_s,
  }: { readonly settle: SettleCalibration | null; readonly fill_s: number | null },
): SlopeOutcome {
  if (!calibration) {
    return {
      kind: "void",
      code: "NOT_CALIBRATED",
      sentence: "There is no settle calibration for this model on this station: run drumtight study settle.",
    };
  }
  const unseen_Pa = UNSEEN_SLOW_PART * calibration.heat_Pa;
  const knowledge = {
    ...calibration,
    tauSpread_s: Math.max(calibration.tauSpread_s, LEAST_SPREAD * calibration.tau_s),
    heatSpread_Pa: Math.hypot(
      Math.max(calibration.heatSpread_Pa, LEAST_SPREAD * Math.abs(calibration.heat_Pa)),
      otherFill(calibration, fill_s) * calibration.heat_Pa,
    ),
    slowSpread_Pa: Math.hypot(calibration.slowSpread_Pa, unseen_Pa),
  };
  for (const widened of WIDENED) {
    const fit = fitDecay(curve, knowledge, { pressureExponent: PRESSURE_EXPONENT, loosening: widened });
    const least = widened === 1 ? LEAST_PROBABILITY.asCalibrated : LEAST_PROBABILITY.otherwise;
    if (fit.fitProbability < least || fit.noiseRatio > MOST_NOISE_RATIO) continue;
    return { kind: "slope", slope: slopeOf(curve, fit, widened) };
  }
  return {
    kind: "void",
    code: "MODEL_DOES_NOT_FIT",
    sentence:
      "The pressure did not settle as this model's bodies do. Look for a draught, a warm or soft body, a knock or a noisy gauge, then test the unit again. If it keeps coming, have the engineer run drumtight study settle.",
  };
}

/** A fill that took another time heated the gas otherwise, by about as much: part by which it differs from the learned. */
function otherFill(calibration: SettleCalibration, fill_s: number | null): number {
  return fill_s === null ? 0 : Math.abs(fill_s / calibration.fill_s - 1);
}

function slopeOf(curve: DecayCurve, fit: DecayFit, widened: number) {
  return {
    slope_Pa_s: fit.slope_Pa_s,
    components: [{ component: "fit", uncertainty_Pa_s: fit.slopeUncertainty_Pa_s }],
    exponentSensitivity: fit.exponentSensitivity,
    how: {
      method: "fitted" as const,
      from_s: curve.t_s[0] as number,
      to_s: curve.t_s[curve.t_s.length - 1] as number,
      samples: fit.samples,
      left_out: fit.leftOut,
      noise_ratio: fit.noiseRatio,
      fit_probability: fit.fitProbability,
      tau_s: fit.tau_s,
      ...(widened === 1 ? {} : { spreads_widened: widened }),
    },
  };
}
