import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";

/** What a method makes of a curve: the leak's part of the pressure's change, at test pressure. */
export interface LeakSlope {
  /** Signed as the pressure's change: negative when a pressurised body loses. */
  readonly slope_Pa_s: number;
  /** From the curve itself, noise and what settling may have left. */
  readonly components: readonly SlopeComponent[];
  /** Change of ln(slope) for a change of the leak's pressure exponent: about ln(p_test / p) where the slope was seen. */
  readonly exponentSensitivity: number;
  readonly how: HowMeasured;
}

export interface SlopeComponent {
  readonly component: string;
  /** Standard uncertainty. */
  readonly uncertainty_Pa_s: number;
}

/** What a traveller tells of the way from curve to number. */
export interface HowMeasured {
  readonly method: "fitted" | "slope" | "difference";
  readonly mean_curve_subtracted?: boolean;
  /** First sample used, since the body was shut off. */
  readonly from_s: number;
  readonly to_s: number;
  readonly samples: number;
  /** Wild readings not used. */
  readonly left_out: number;
  /** Fitted only. Noise found against noise calibrated; chance that a right model leaves such residuals. */
  readonly noise_ratio?: number;
  readonly fit_probability?: number;
  readonly tau_s?: number;
  /** How much wider than calibrated the heat's and the slow part's spreads had to be taken. */
  readonly spreads_widened?: number;
}

export type SlopeOutcome =
  | { readonly kind: "slope"; readonly slope: LeakSlope }
  | { readonly kind: "void"; readonly code: SlopeVoid; readonly sentence: string };

export type SlopeVoid = "TOO_FEW_SAMPLES" | "NOT_CALIBRATED" | "MODEL_DOES_NOT_FIT";

/** Gas flow through a leak grows with pressure between p^0.5 (orifice) and p^1 (capillary) at small differences. */
export const PRESSURE_EXPONENT = 0.75;
export const PRESSURE_EXPONENT_HALF_WIDTH = 0.25;

/**
 * Leak rate, m3/s at the house reference, that makes gas shut in this volume change by 1 Pa/s: (V / p_ref) (T_ref / T).
 * @see ideal gas amount balance at fixed volume, as in 40 CFR 1065.644
 */
export function leakPerSlope_m3_Pa(volume_m3: number, temperature_K: number): number {
  return (volume_m3 / HOUSE_REFERENCE.pressure_Pa) * (HOUSE_REFERENCE.temperature_K / temperature_K);
}
