import type { SettleCalibration } from "../leak/settle-calibration.ts";
import { noiseDensity_Pa2_s } from "./settle-study.ts";

/** Settling and measuring times for a fixed timer, whole seconds. */
export interface FixedTimes {
  readonly settle_s: number;
  readonly measure_s: number;
}

/** What is left of heat and slow part, and what the noise adds (k = 2), each as a part of the limit. */
const PART_OF_LIMIT = 1 / 20;
const LONGEST_S = 600;

/**
 * Times after which heat and slow part drift by less than a twentieth of the limit, and in which the gauge's noise leaves
 * an expanded uncertainty (k = 2) of a twentieth of it.
 * @param limit_Pa_s what a leak at the limit does to the pressure
 * @param spacing_s time between readings
 * @see variance of a regression slope over a time T in noise of density S: 12 S / T^3
 */
export function fixedTimes(
  calibration: SettleCalibration,
  limit_Pa_s: number,
  spacing_s: number,
): FixedTimes {
  const { tau_s, heat_Pa, slow_Pa, slowTau_s, noise } = calibration;
  const most_Pa_s = PART_OF_LIMIT * Math.abs(limit_Pa_s);
  const drift_Pa_s = (t_s: number) =>
    (Math.abs(heat_Pa) / tau_s) * Math.exp(-t_s / tau_s) +
    (Math.abs(slow_Pa) / slowTau_s) * Math.exp(-t_s / slowTau_s);
  let settle_s = 1;
  while (settle_s < LONGEST_S && drift_Pa_s(settle_s) > most_Pa_s) settle_s++;
  const deviation_Pa_s = most_Pa_s / 2;
  const measure_s = Math.ceil(Math.cbrt((12 * noiseDensity_Pa2_s(noise, spacing_s)) / deviation_Pa_s ** 2));
  return { settle_s, measure_s };
}
