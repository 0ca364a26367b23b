import type { LeakStep } from "../../../limits/model.ts";
import type { DecayCurve } from "./decay-fit.ts";
import { MOST_UNCERTAIN_TIGHT } from "./leak-looks.ts";
import { type LeakConditions, type LeakRate, measureLeakRate } from "./leak-rate.ts";

/** A reference piece's early reading this many standard uncertainties off its certificate is no chance. */
const MOST_OFF = 3.3;

/**
 * What a look would have read of this curve as soon as it could call a unit tight: the reading that leans most on the
 * settle calibration, and so shows one gone stale, which the full measurement does not.
 * @param curve samples of the whole measuring time, times since the shut-off
 * @param limit_m3_s upper limit that units are judged by
 * @returns null where no look would have
 */
function earliestReading(
  curve: DecayCurve,
  step: Pick<LeakStep, "method" | "earlyVerdict">,
  conditions: LeakConditions,
  limit_m3_s: number,
): LeakRate | null {
  const { earlyVerdict: rule, method } = step;
  const n = curve.t_s.length;
  if (!rule || n === 0) return null;
  const start_s = curve.t_s[0] as number;
  let due_s = start_s + rule.measureShortest_s;
  for (let i = 0; i < n; i++) {
    if ((curve.t_s[i] as number) < due_s) continue;
    due_s += rule.lookEvery_s;
    const found = measureLeakRate(firstOf(curve, i + 1), method, conditions);
    if (found.kind !== "measured" || found.leak.how.spreads_widened !== undefined) continue;
    const { constantUncertainty_m3_s, relativeUncertainty } = found.leak;
    const uncertainty_m3_s = Math.hypot(constantUncertainty_m3_s, relativeUncertainty * limit_m3_s);
    if (uncertainty_m3_s <= MOST_UNCERTAIN_TIGHT * limit_m3_s) return found.leak;
  }
  return null;
}

/**
 * Whether a reference piece no longer comes to rest as was learned on it: its curve fits only with wider spreads, or its
 * early reading contradicts its certificate.
 */
export function isSettlingStale(
  curve: DecayCurve,
  step: Pick<LeakStep, "method" | "earlyVerdict">,
  conditions: LeakConditions,
  piece: {
    readonly measured: LeakRate;
    readonly certified_m3_s: number;
    /** Upper limit that units are judged by. */
    readonly limit_m3_s: number;
  },
): boolean {
  if (piece.measured.how.spreads_widened !== undefined) return true;
  const early = earliestReading(curve, step, conditions, piece.limit_m3_s);
  return (
    early !== null && Math.abs(early.value_m3_s - piece.certified_m3_s) > MOST_OFF * early.uncertainty_m3_s
  );
}

function firstOf({ t_s, pressure_Pa }: DecayCurve, count: number): DecayCurve {
  return {
    t_s: Array.prototype.slice.call(t_s, 0, count),
    pressure_Pa: Array.prototype.slice.call(pressure_Pa, 0, count),
  };
}
