import type { Trend } from "./trend.ts";

/** When a quantity counts as steady. */
export interface SteadyRule {
  /** Part of its mean that it may still move in the time ahead. */
  readonly within: number;
  /** Shortest window the trend is taken from. */
  readonly window_s: number;
  readonly ahead_s: number;
}

/** A quantity that swings about its trend by more than this many times what the trend may move is not steady: it surges. */
const MOST_SWING = 2;
/** A slope is taken as this many of its standard uncertainties steeper than it seems. */
const SURE = 2;
/** Nobody is failed on less. */
const VERY_SURE = 4;
/**
 * A window is at least this part of the time since the command (motor on, other orifice). What is still to come of a slow
 * approach is no less a part of what came before; over a window that grows with it, neither noise nor a slow ripple that
 * happens to run against it can hide it for long.
 */
const LEAST_PART = 0.25;
/** The first third after the command is transient, whatever comes of it. */
const MOST_PART = 0.7;
const GROWTH = 1.25;

/**
 * Lengths of the windows, all ending now, in which steadiness may be looked for, the shortest first. Longer ones average
 * ripple out.
 * @param elapsed_s since the command
 * @returns none while too little time has passed
 * @example windowLengths_s(2, 0.4) // 0.5, 0.625, 0.78, 0.98, 1.22
 */
export function windowLengths_s(elapsed_s: number, shortest_s: number): number[] {
  const lengths: number[] = [];
  let length_s = Math.max(shortest_s, LEAST_PART * elapsed_s);
  for (; length_s <= MOST_PART * elapsed_s; length_s *= GROWTH) lengths.push(length_s);
  return lengths;
}

/**
 * Whether the trend, followed for the time ahead, takes the quantity no further than the rule says, and this is known; and
 * its standard deviation about the trend is no more than twice that.
 * @param floor where the mean is nearly nothing, it may move this far, in its own unit
 * @example // 12 kPa rising by 20 Pa/s +- 10 Pa/s moves 80 Pa in 2 s at most, of 120 Pa allowed
 * isSteady({ mean: 12_000, slope: 20, slopeUncertainty: 10, meanUncertainty: 3, deviation: 15, n: 20 }, { within: 0.01, window_s: 0.4, ahead_s: 2 }, 0) // true
 */
export function isSteady(trend: Trend, rule: SteadyRule, floor: number): boolean {
  const most = mayMove(trend, rule, floor);
  return mostMoved(trend, rule) <= most && trend.deviation <= MOST_SWING * most;
}

/**
 * Whether a quantity that never became steady was surely still rising all the time: over every window by more than the rule
 * allows, over the shortest by half of that, and not, as the newer half of that shows, to its end just now.
 * @param windows trends over windows that all end now, the shortest first, what is explained taken off
 * @param newer over the newer half of the shortest window
 * @example // 20 kPa after 6 s: rising by 80 Pa/s at last, by 300 Pa/s on the way there; 100 Pa/s are allowed
 * isStillRising([at(80, 12), at(160, 20), at(300, 60)], at(50, 30), { within: 0.01, window_s: 0.4, ahead_s: 2 }, 0) // true
 */
export function isStillRising(
  windows: readonly Trend[],
  newer: Trend,
  rule: SteadyRule,
  floor: number,
): boolean {
  const [shortest, ...longer] = windows;
  if (!shortest) return false;
  const most = mayMove(shortest, rule, floor) / rule.ahead_s;
  return (
    shortest.slope > Math.max(most / 2, VERY_SURE * shortest.slopeUncertainty) &&
    longer.every(({ slope, slopeUncertainty }) => slope > Math.max(most, SURE * slopeUncertainty)) &&
    newer.slope + SURE * newer.slopeUncertainty > shortest.slope / 2
  );
}

/**
 * Whether it will surely be above this value so much later: its trend, taken as falling as steeply as it may, stays above.
 */
export function staysAbove(trend: Trend, newest: number, value: number, later_s: number): boolean {
  return newest + (trend.slope - SURE * trend.slopeUncertainty) * later_s > value;
}

function mostMoved({ slope, slopeUncertainty }: Trend, { ahead_s }: SteadyRule): number {
  return (Math.abs(slope) + SURE * slopeUncertainty) * ahead_s;
}

function mayMove({ mean }: Trend, { within }: SteadyRule, floor: number): number {
  return Math.max(within * Math.abs(mean), floor);
}
