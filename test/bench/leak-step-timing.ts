import type { LeakMethod } from "../../limits/model.ts";
import { normalCdf, normalQuantile } from "../../limits/normal.ts";
import { measureLeakRate } from "../../station/measure/leak/leak-rate.ts";
import { type Curve, cut, type LeakStation, type Timing } from "./leak-step-methods.ts";

/** Units of one true leak, and the most of them that may be judged wrongly, by the normal approximation. */
export interface Demand {
  readonly curves: readonly Curve[];
  readonly wrong: "accepted" | "rejected";
  readonly most: number;
}

export const WATCHED_s = 42;
const STEP_s = 0.5;
const SETTLE_LEAST_s = 1;
const MEASURE_s = [1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10];
/** A timing by which more of the training units than this have no valid measurement is none. */
const MOST_VOID = 0.02;

/**
 * The shortest fixed timer whose own error meets the demands: over all pairs of settling and measuring time, in half
 * seconds, the least sum for which fewer wrong verdicts than demanded are to be expected, by the normal approximation of
 * where the measured values lie against their own acceptance limits. Where not one of the training units may be judged
 * wrongly none is: what settling leaves is skewed, and its tail heavier than a normal one.
 * @throws Error where none does within 42 s
 */
export function shortestFixedTimer(
  station: LeakStation,
  method: LeakMethod,
  demands: readonly Demand[],
): Timing {
  let best: Timing | undefined;
  for (const measure_s of MEASURE_s) {
    // Bisection: more settling is never worse.
    const longest = Math.floor(((best ? total_s(best) : WATCHED_s) - measure_s - SETTLE_LEAST_s) / STEP_s);
    const at = (step: number) => ({ settle_s: SETTLE_LEAST_s + step * STEP_s, measure_s });
    if (longest < 0 || !isGoodEnough(station, method, at(longest), demands)) continue;
    let tooShort = -1;
    let longEnough = longest;
    while (longEnough - tooShort > 1) {
      const middle = (tooShort + longEnough) >> 1;
      if (isGoodEnough(station, method, at(middle), demands)) longEnough = middle;
      else tooShort = middle;
    }
    if (!best || total_s(at(longEnough)) < total_s(best)) best = at(longEnough);
  }
  if (!best) throw new Error("No fixed timer is good enough on this line.");
  return best;
}

export function total_s({ settle_s, measure_s }: Timing): number {
  return settle_s + measure_s;
}

function isGoodEnough(
  station: LeakStation,
  method: LeakMethod,
  timing: Timing,
  demands: readonly Demand[],
): boolean {
  return demands.every((demand) => wrongPart(station, method, timing, demand) < demand.most);
}

/** Probability of the wrong verdict: how far the values lie from their own acceptance limits, taken as normal. */
function wrongPart(
  { conditions, limit_m3_s, rule }: LeakStation,
  method: LeakMethod,
  timing: Timing,
  { curves, wrong, most }: Demand,
): number {
  const guard = rule.kind === "guarded" ? normalQuantile(rule.conformance) : 0;
  const beyond: number[] = [];
  for (const curve of curves) {
    const found = measureLeakRate(cut(curve, timing.settle_s, total_s(timing)), method, conditions);
    if (found.kind !== "measured") continue;
    const { value_m3_s, uncertainty_m3_s } = found.leak;
    const distance = (value_m3_s + guard * uncertainty_m3_s) / limit_m3_s - 1;
    const isWrong = distance > 0 === (wrong === "rejected");
    if (isWrong && most * curves.length < 1) return 1;
    beyond.push(distance);
  }
  if (beyond.length < (1 - MOST_VOID) * curves.length) return 1;
  const mean = beyond.reduce((sum, value) => sum + value, 0) / beyond.length;
  const variance = beyond.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (beyond.length - 1);
  const z = mean / Math.sqrt(variance);
  return normalCdf(wrong === "accepted" ? -z : z);
}
