import type { LeakMethod } from "../../limits/model.ts";
import { normalCdf, normalQuantile } from "../../limits/normal.ts";
import { measureLeakRate } from "../../station/measure/leak-rate.ts";
import { type Curve, cut, type LeakStation, type Timing } from "./leak-step-methods.ts";

/** Curves of training units, by true leak over limit. */
export interface TrainingUnits {
  readonly conforming: readonly Curve[];
  readonly leaking: readonly Curve[];
}

/** Leaks of the training units, over the limit. */
export const TRAINED_AT = { conforming: 0.6, leaking: 1.25 } as const;
/** As many wrong verdicts as a fixed timer may make of either kind. */
const MOST_WRONG = 1e-3;
export const WATCHED_s = 42;
const STEP_s = 0.5;
const SETTLE_LEAST_s = 1;
const MEASURE_s = [1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10];
/** A timing by which more of the training units than this have no valid measurement is none. */
const MOST_VOID = 0.02;

/**
 * The shortest fixed timer whose own error allows it: over all pairs of settling and measuring time, in half seconds, the
 * least sum for which false accepts at 1.25 of the limit and false rejects at 0.6 of it stay under 0.1 % each, by the
 * normal approximation of where the measured value lies against its own acceptance limit, and no training unit is judged
 * wrongly: what settling leaves is skewed, and its tail heavier than a normal one.
 * @throws Error where none does within 42 s
 */
export function shortestFixedTimer(station: LeakStation, method: LeakMethod, units: TrainingUnits): Timing {
  let best: Timing | undefined;
  for (const measure_s of MEASURE_s) {
    // Bisection: more settling is never worse.
    const longest = Math.floor(((best ? total_s(best) : WATCHED_s) - measure_s - SETTLE_LEAST_s) / STEP_s);
    const at = (step: number) => ({ settle_s: SETTLE_LEAST_s + step * STEP_s, measure_s });
    if (longest < 0 || !isGoodEnough(station, method, at(longest), units)) continue;
    let tooShort = -1;
    let longEnough = longest;
    while (longEnough - tooShort > 1) {
      const middle = (tooShort + longEnough) >> 1;
      if (isGoodEnough(station, method, at(middle), units)) longEnough = middle;
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
  { conforming, leaking }: TrainingUnits,
): boolean {
  return (
    wrong(station, method, timing, leaking, "accepted") < MOST_WRONG &&
    wrong(station, method, timing, conforming, "rejected") < MOST_WRONG
  );
}

/** Probability of the wrong verdict: how far the values lie from their own acceptance limits, taken as normal. */
function wrong(
  { conditions, limit_m3_s, rule }: LeakStation,
  method: LeakMethod,
  timing: Timing,
  curves: readonly Curve[],
  how: "accepted" | "rejected",
): number {
  const guard = rule.kind === "guarded" ? normalQuantile(rule.conformance) : 0;
  const beyond: number[] = [];
  for (const curve of curves) {
    const found = measureLeakRate(cut(curve, timing.settle_s, total_s(timing)), method, conditions);
    if (found.kind !== "measured") continue;
    const { value_m3_s, uncertainty_m3_s } = found.leak;
    const distance = (value_m3_s + guard * uncertainty_m3_s) / limit_m3_s - 1;
    if (distance > 0 === (how === "rejected")) return 1;
    beyond.push(distance);
  }
  if (beyond.length < (1 - MOST_VOID) * curves.length) return 1;
  const mean = beyond.reduce((sum, value) => sum + value, 0) / beyond.length;
  const variance = beyond.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (beyond.length - 1);
  const z = mean / Math.sqrt(variance);
  return normalCdf(how === "accepted" ? -z : z);
}
