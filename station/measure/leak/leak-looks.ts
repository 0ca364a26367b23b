import type { EarlyVerdictRule, LeakMethod } from "../../../limits/model.ts";
import type { DecayCurve } from "./decay-fit.ts";
import { EarlyVerdict, type LookDecision } from "./early-verdict.ts";
import { type LeakConditions, type LeakRate, measureLeakRate } from "./leak-rate.ts";

/** What a leak step's looks need to know; limits of the leak rates judged in it, m3/s. */
export interface LooksOrder {
  readonly limits: readonly { readonly lower?: number | undefined; readonly upper?: number | undefined }[];
  readonly rule: EarlyVerdictRule;
  readonly measureLongest_s: number;
  readonly method: LeakMethod;
  readonly conditions: LeakConditions;
}

/** Why a measurement may end: statistics of the first leak rate judged, or of the one that fails; none for a body that has emptied. */
export interface EarlyDecision {
  readonly distance?: number;
  readonly boundary?: number;
  readonly riskSpent?: number;
}

/**
 * A look this uncertain, relative to the limit, tells nothing: it would call a unit tight for an absurdly negative reading
 * only, and most false accepts beyond the limit come from such looks.
 */
export const MOST_UNCERTAIN = 1 / 3;

/** Beyond the limit by this many standard uncertainties a unit fails however vague the look: one in a thousand million. */
export const OBVIOUS = 6;

/**
 * A unit is not called tight with a reading less certain than this, relative to the limit: of lucky low readings none
 * would come early, and the value stays one that a trend can be drawn of. Costs a usual unit no time.
 */
export const MOST_UNCERTAIN_TIGHT = 1 / 4;

/** The looks taken at one leak step's growing curve, with the limit file's risks kept over all of them. */
export class LeakLooks {
  readonly #order: LooksOrder;
  readonly #verdicts: readonly OneVerdict[];

  constructor(order: LooksOrder) {
    this.#order = order;
    this.#verdicts = order.limits.map((limits) => new OneVerdict(limits, order.rule));
  }

  /**
   * @param curve samples of the measuring time so far, times since the shut-off
   * @param elapsed_s of the measuring time
   * @returns null to go on; else every leak rate is certainly within its limits, or one certainly outside
   */
  take(curve: DecayCurve, elapsed_s: number): EarlyDecision | null {
    const { rule, measureLongest_s, method, conditions } = this.#order;
    const toSpend_s = measureLongest_s - rule.measureShortest_s;
    const clock = Math.min(1, Math.max(0, (elapsed_s - rule.measureShortest_s) / toSpend_s));
    const found = measureLeakRate(curve, method, conditions);
    // An emptied body needs no statistics.
    if (found.kind === "lost") return {};
    // What had to be widened to fit is a body not as learned: measured to the end.
    if (found.kind === "void" || found.leak.how.spreads_widened !== undefined) {
      for (const verdict of this.#verdicts) verdict.skip(clock);
      return null;
    }
    const decisions = this.#verdicts.map((verdict) => verdict.take(found.leak, clock));
    const failing = decisions.find(({ kind }) => kind === "fails");
    const isCertain = failing !== undefined || decisions.every(({ kind }) => kind === "conforms");
    const told = failing ?? decisions[0];
    if (!isCertain || !told || told.kind === "go-on") return null;
    return { distance: told.distance, boundary: told.boundary, riskSpent: told.riskSpent };
  }
}

class OneVerdict {
  readonly #boundary: EarlyVerdict;
  readonly #limit_m3_s: number;
  readonly #upper_m3_s: number;
  #decision: LookDecision = { kind: "go-on" };

  constructor(limits: LooksOrder["limits"][number], { falseAccept, falseReject }: EarlyVerdictRule) {
    this.#boundary = new EarlyVerdict(limits, { falseAccept, falseReject });
    this.#upper_m3_s = limits.upper ?? Number.POSITIVE_INFINITY;
    this.#limit_m3_s = limits.upper ?? limits.lower ?? 0;
  }

  /** Once decided it stays so: the risk was spent on that look. */
  take(leak: LeakRate, clock: number): LookDecision {
    if (this.#decision.kind !== "go-on") return this.#decision;
    // As it is for a leak at the limit: an uncertainty that followed the reading would not be independent of it.
    const standardUncertainty = Math.hypot(
      leak.constantUncertainty_m3_s,
      leak.relativeUncertainty * this.#limit_m3_s,
    );
    if (standardUncertainty > MOST_UNCERTAIN * this.#limit_m3_s) return this.#failObviously(leak);
    const decision = this.#boundary.take({ value: leak.value_m3_s, standardUncertainty, clock });
    const isTooVague =
      decision.kind === "conforms" && standardUncertainty > MOST_UNCERTAIN_TIGHT * this.#limit_m3_s;
    // Not to stop where one might only makes wrong stops rarer.
    if (!isTooVague) this.#decision = decision;
    return this.#decision;
  }

  #failObviously({ value_m3_s, uncertainty_m3_s }: LeakRate): LookDecision {
    const distance = (value_m3_s - this.#upper_m3_s) / uncertainty_m3_s;
    if (distance >= OBVIOUS)
      this.#decision = { kind: "fails", boundary: OBVIOUS, distance, riskSpent: this.#boundary.rejectSpent };
    return this.#decision;
  }

  skip(clock: number): void {
    if (this.#decision.kind === "go-on") this.#boundary.skip(clock);
  }
}
