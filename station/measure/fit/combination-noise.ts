import type { GaugeNoise } from "./gauge-noise.ts";

/**
 * Standard deviation of a linear combination of readings with a gauge's noise, white and wandering.
 * @param t_s times of the readings, rising
 * @param weights one per reading; those of a slope are in 1/s, and the result in Pa/s
 * @see JCGM 100:2008, equation 16; the wandering part keeps exp(-dt / tau) of itself, so that one pass over the readings does
 */
export function combinationNoise(
  t_s: ArrayLike<number>,
  weights: ArrayLike<number>,
  { white_Pa, wander_Pa, wanderTau_s }: GaugeNoise,
): number {
  let variance = 0;
  let earlier = 0;
  for (let i = 0; i < t_s.length; i++) {
    const weight = weights[i] as number;
    if (i > 0) earlier *= Math.exp(((t_s[i - 1] as number) - (t_s[i] as number)) / wanderTau_s);
    variance += weight ** 2 * (white_Pa ** 2 + wander_Pa ** 2) + 2 * weight * earlier * wander_Pa ** 2;
    earlier += weight;
  }
  return Math.sqrt(Math.max(0, variance));
}

/** The slope of the regression line through readings at these times is this combination of them. */
export function lineWeights(t_s: readonly number[]): number[] {
  const mean_s = t_s.reduce((sum, t) => sum + t, 0) / t_s.length;
  const squares = t_s.reduce((sum, t) => sum + (t - mean_s) ** 2, 0);
  return t_s.map((t) => (t - mean_s) / squares);
}
