/**
 * Noise of a pressure gauge: white from reading to reading, and a wandering part that forgets with a time constant
 * (first-order autoregression in continuous time). Standard deviations.
 */
export interface GaugeNoise {
  readonly white_Pa: number;
  readonly wander_Pa: number;
  readonly wanderTau_s: number;
}
