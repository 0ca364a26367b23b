import type { GaugeNoise } from "../fit/gauge-noise.ts";

/**
 * How a body of this model comes to rest on this station, learned on its tight reference piece:
 * p(t) = c + s t + heat exp(-t / tau) + slow exp(-t / slowTau), t from the moment the body was shut off.
 * Spreads are standard deviations to be expected from unit to unit.
 */
export interface SettleCalibration {
  readonly testPressure_Pa: number;
  /** Mean time the fill took. */
  readonly fill_s: number;
  /** Gas against the body's wall: time constant and amplitude, signed as the gauge pressure. */
  readonly tau_s: number;
  readonly tauSpread_s: number;
  readonly heat_Pa: number;
  readonly heatSpread_Pa: number;
  /** Creep of the body and whatever else is slower than the gas. */
  readonly slow_Pa: number;
  readonly slowSpread_Pa: number;
  readonly slowTau_s: number;
  /** Loss that stays when everything has come to rest, of fixture and piece together, positive when pressure is lost. */
  readonly background_Pa_s: number;
  readonly backgroundUncertainty_Pa_s: number;
  readonly noise: GaugeNoise;
  /** Mean of the runs less its last value, at these times; between them it is read linearly. */
  readonly meanCurve: { readonly t_s: readonly number[]; readonly pressure_Pa: readonly number[] };
  /** Runs it was learned from, and how long each was watched. */
  readonly runs: number;
  readonly watched_s: number;
}

/** The inside volume of unit and fixture as the leak step feels it, measured with a known leak or a known added volume. */
export interface VolumeCalibration {
  readonly volume_m3: number;
  readonly uncertainty_m3: number;
}
