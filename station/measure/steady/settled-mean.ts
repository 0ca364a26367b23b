import { rectangular } from "../fit/uncertainty.ts";
import { trendOf } from "./trend.ts";

/** Mean of a quantity that comes to rest, and its standard uncertainty. */
export interface SettledMean {
  readonly mean: number;
  readonly uncertainty: number;
}

/**
 * Mean over a steady window as an estimate of where the quantity comes to rest. Its uncertainty is that of the mean (scatter,
 * trend and ripple in the window) and what may still be to come: a quantity that began at the command and approaches rest
 * exponentially, with the slope seen (and one standard uncertainty more) in the middle of the window, has slope times time
 * constant left, taken as half the width of a rectangle. The time constant follows from how far the approach has come: of a
 * change as large as the mean, slope T / mean = x exp(-x) with x = T / time constant, on the branch of an approach that is
 * past its first time constant.
 * @param t_s times of the readings, 4 or more, rising
 * @param since_s time of the command (motor on, other orifice), before the first reading
 * @throws RangeError on fewer readings, or on a command after them
 * @example // 100 read from 3 s to 4 s after the command, and rising by 0.2 a second: 0.1 may be to come, so much may be missing
 * settledMean([3, 3.25, 3.5, 3.75, 4], [99.9, 99.95, 100, 100.05, 100.1], 0) // mean 100, uncertainty 0.11
 * @see JCGM 100:2008, 4.2 and 4.3.7
 */
export function settledMean(t_s: readonly number[], values: readonly number[], since_s: number): SettledMean {
  const { mean, slope, slopeUncertainty, meanUncertainty } = trendOf(t_s, values);
  const middle_s = ((t_s[0] as number) + (t_s.at(-1) as number)) / 2 - since_s;
  if (!(middle_s > 0)) throw new RangeError("The readings of a mean come after the command.");
  const steepest = Math.abs(slope) + slopeUncertainty;
  const left = steepest * (middle_s / timeConstantsGone((steepest * middle_s) / Math.abs(mean)));
  return { mean, uncertainty: Math.hypot(meanUncertainty, rectangular(left)) };
}

/** The larger root x of x exp(-x) = share; 1 where there is none: the approach has only begun. */
function timeConstantsGone(share: number): number {
  if (!(share < Math.exp(-1))) return 1;
  if (share <= 0) return Number.POSITIVE_INFINITY;
  let x = -Math.log(share);
  // Converges fast: the derivative of -log(share / x) is 1 / x, and x > 1.
  for (let i = 0; i < 40; i++) x = Math.log(x / share);
  return x;
}
