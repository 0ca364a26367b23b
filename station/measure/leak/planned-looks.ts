import type { EarlyVerdictRule } from "../../../limits/model.ts";
import { MOST_UNCERTAIN, MOST_UNCERTAIN_TIGHT, OBVIOUS } from "./leak-looks.ts";
import { SequentialBoundary } from "./sequential-boundary.ts";

/** Where a look would end the measurement: leak rates in the unit of the limit. */
export interface PlannedLook {
  /** Of the measuring time. */
  readonly after_s: number;
  /** Minus infinity where no value passes yet. */
  readonly passesTo: number;
  /** Infinity where no value fails yet. */
  readonly failsFrom: number;
}

/**
 * The looks of `LeakLooks` before anything was measured, from how certain each will be. Looks that can't end it are not among them.
 * @param limit upper limit of the leak rate
 * @param uncertaintyAfter standard uncertainty of a leak at the limit by this much of the measuring time, in the unit of the limit
 */
export function plannedLooks(
  limit: number,
  rule: EarlyVerdictRule,
  measureLongest_s: number,
  uncertaintyAfter: (elapsed_s: number) => number,
): PlannedLook[] {
  const { measureShortest_s, lookEvery_s } = rule;
  const accept = new SequentialBoundary(rule.falseAccept);
  const reject = rule.falseReject === rule.falseAccept ? null : new SequentialBoundary(rule.falseReject);
  const looks: PlannedLook[] = [];
  for (let k = 0; ; k++) {
    const after_s = measureShortest_s + k * lookEvery_s;
    if (after_s >= measureLongest_s * (1 - 1e-9)) return looks;
    const uncertainty = uncertaintyAfter(after_s);
    if (uncertainty > MOST_UNCERTAIN * limit) {
      looks.push({ after_s, passesTo: Number.NEGATIVE_INFINITY, failsFrom: limit + OBVIOUS * uncertainty });
      continue;
    }
    const clock = (after_s - measureShortest_s) / (measureLongest_s - measureShortest_s);
    const toAccept = accept.next(uncertainty, clock);
    const toReject = reject ? reject.next(uncertainty, clock) : toAccept;
    const isTooVague = uncertainty > MOST_UNCERTAIN_TIGHT * limit;
    const passesTo = isTooVague ? Number.NEGATIVE_INFINITY : limit - toAccept * uncertainty;
    const failsFrom = limit + toReject * uncertainty;
    if (Number.isFinite(passesTo) || Number.isFinite(failsFrom)) looks.push({ after_s, passesTo, failsFrom });
  }
}
