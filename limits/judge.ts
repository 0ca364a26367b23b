import type { DecisionRule } from "./model.ts";
import { normalCdf, normalQuantile } from "./normal.ts";

/** A measured value against its limits, all in one unit. */
export interface JudgeInput {
  readonly value: number;
  /** One standard uncertainty of the value, 0 or more. */
  readonly standardUncertainty: number;
  readonly lower?: number;
  readonly upper?: number;
  readonly rule: DecisionRule;
}

/** Values accepted by the rule, bounds included; a side without limit has no bound. */
export interface AcceptanceLimits {
  readonly lower?: number;
  readonly upper?: number;
}

export type FailWhy =
  | "ABOVE_UPPER_LIMIT"
  | "BELOW_LOWER_LIMIT"
  | "IN_UPPER_GUARD_BAND" // within the limit, but not surely enough
  | "IN_LOWER_GUARD_BAND";

export type VoidWhy =
  | "VALUE_NOT_FINITE"
  | "UNCERTAINTY_NOT_VALID"
  | "UNCERTAINTY_TOO_LARGE" // no value between the limits could reach the conformance asked for
  | "LIMITS_NOT_VALID";

export type Judgement =
  | { readonly verdict: "pass"; readonly conformance: number; readonly acceptance: AcceptanceLimits }
  | {
      readonly verdict: "fail";
      readonly why: FailWhy;
      readonly conformance: number;
      readonly acceptance: AcceptanceLimits;
    }
  | {
      readonly verdict: "void";
      readonly why: VoidWhy;
      readonly conformance: null;
      readonly acceptance: null;
    };

/**
 * Judges one characteristic. A value equal to an acceptance limit passes; a value that cannot be trusted is void,
 * neither pass nor fail. Compare unrounded values.
 *
 * Conformance is the probability that the true value is within the limits, for a normal distribution around the
 * measured value (JCGM 106:2012, 7.2 to 7.4: p_c = Phi((T_U - y)/u) - Phi((T_L - y)/u)). Simple acceptance
 * (8.2) compares with the limits themselves; guarded acceptance (8.3.2) with acceptance limits drawn in so that
 * the conformance is at least the one asked for.
 * @example judge({ value: 9.2, standardUncertainty: 0.5, upper: 10, rule: { kind: "guarded", conformance: 0.95 } })
 * // fail, IN_UPPER_GUARD_BAND, conformance 0.9452, acceptance { upper: 9.1776 }
 */
export function judge(input: JudgeInput): Judgement {
  const { value, standardUncertainty: u, lower, upper, rule } = input;
  const outcome = outcomeOf(prepareLimits(input), value, u);
  if (isVoidWhy(outcome)) return { verdict: "void", why: outcome, conformance: null, acceptance: null };
  const guarded = rule.kind === "guarded" ? guardedLimits(u, rule.conformance, lower, upper) : undefined;
  const acceptance = guarded ?? bounds(lower, upper);
  const conformance = conformanceProbability(value, u, lower, upper);
  return outcome === "CONFORMS"
    ? { verdict: "pass", conformance, acceptance }
    : { verdict: "fail", why: outcome, conformance, acceptance };
}

/** What becomes of a value, in one word. */
export type Outcome = "CONFORMS" | FailWhy | VoidWhy;

/** Limits and rule made ready for many values. */
export interface PreparedLimits {
  readonly isValid: boolean;
  /** Minus infinity for none. */
  readonly lower: number;
  /** Infinity for none. */
  readonly upper: number;
  /** Guard band on one side, in standard uncertainties; 0 for simple acceptance. */
  readonly guard: number;
  /** Where both limits are guarded, so that both tails count. */
  readonly bothTails: { readonly conformance: number } | null;
}

export function prepareLimits(limits: Pick<JudgeInput, "lower" | "upper" | "rule">): PreparedLimits {
  const { lower, upper, rule } = limits;
  const isGuarded = rule.kind === "guarded";
  return {
    isValid: limitsValid(limits),
    lower: lower ?? Number.NEGATIVE_INFINITY,
    upper: upper ?? Number.POSITIVE_INFINITY,
    guard: isGuarded ? normalQuantile(rule.conformance) : 0,
    bothTails: isGuarded && lower !== undefined && upper !== undefined ? rule : null,
  };
}

/**
 * What `judge` says of a value, without its probability of conformance: a million times over.
 * @example outcomeOf(prepareLimits({ upper: 10, rule: { kind: "guarded", conformance: 0.95 } }), 9.2, 0.5) // "IN_UPPER_GUARD_BAND"
 */
export function outcomeOf(limits: PreparedLimits, value: number, standardUncertainty: number): Outcome {
  if (!limits.isValid) return "LIMITS_NOT_VALID";
  if (!Number.isFinite(value)) return "VALUE_NOT_FINITE";
  if (!(Number.isFinite(standardUncertainty) && standardUncertainty >= 0)) return "UNCERTAINTY_NOT_VALID";
  const { lower, upper, guard, bothTails } = limits;
  if (value > upper) return "ABOVE_UPPER_LIMIT";
  if (value < lower) return "BELOW_LOWER_LIMIT";
  if (bothTails && upper - lower <= WIDE * standardUncertainty) {
    const acceptance = guardedLimits(standardUncertainty, bothTails.conformance, lower, upper);
    if (!acceptance) return "UNCERTAINTY_TOO_LARGE";
    if (value > (acceptance.upper ?? upper)) return "IN_UPPER_GUARD_BAND";
    return value < (acceptance.lower ?? lower) ? "IN_LOWER_GUARD_BAND" : "CONFORMS";
  }
  const guard_u = standardUncertainty === 0 ? 0 : standardUncertainty * guard;
  if (value > upper - guard_u) return "IN_UPPER_GUARD_BAND";
  return value < lower + guard_u ? "IN_LOWER_GUARD_BAND" : "CONFORMS";
}

/** So many standard uncertainties apart, neither tail reaches the other limit by any number that a computer can tell from 0. */
const WIDE = 100;

function isVoidWhy(outcome: Outcome): outcome is VoidWhy {
  return (
    outcome === "LIMITS_NOT_VALID" ||
    outcome === "VALUE_NOT_FINITE" ||
    outcome === "UNCERTAINTY_NOT_VALID" ||
    outcome === "UNCERTAINTY_TOO_LARGE"
  );
}

/**
 * Probability that the true value lies within the limits.
 * @param u standard uncertainty; with 0 the answer is 0 or 1
 * @see JCGM 106:2012, equations in 7.3 and 7.4
 */
export function conformanceProbability(value: number, u: number, lower?: number, upper?: number): number {
  if (u === 0) return (lower ?? value) <= value && value <= (upper ?? value) ? 1 : 0;
  const aboveUpper = upper === undefined ? 0 : normalCdf((value - upper) / u);
  const belowLower = lower === undefined ? 0 : normalCdf((lower - value) / u);
  // From the tail that is smaller than a half: a difference from 1 would lose the last digits of a tiny answer.
  if (aboveUpper > 0.5 && upper !== undefined)
    return Math.max(0, normalCdf((upper - value) / u) - belowLower);
  if (belowLower > 0.5 && lower !== undefined)
    return Math.max(0, normalCdf((value - lower) / u) - aboveUpper);
  return Math.max(0, 1 - aboveUpper - belowLower);
}

/**
 * Acceptance limits that give at least this conformance probability, or undefined when no value can reach it.
 * @param u standard uncertainty, 0 or more
 * @see JCGM 106:2012, 8.3.2; with one limit the guard band is u times the normal quantile
 * @example guardedLimits(0.5, 0.95, undefined, 10) // { upper: 9.177573186... }
 */
export function guardedLimits(
  u: number,
  conformance: number,
  lower?: number,
  upper?: number,
): AcceptanceLimits | undefined {
  if (lower === undefined || upper === undefined || u === 0) {
    const guard = u === 0 ? 0 : u * normalQuantile(conformance);
    return bounds(
      lower === undefined ? undefined : lower + guard,
      upper === undefined ? undefined : upper - guard,
    );
  }
  const middle = (lower + upper) / 2;
  if (conformanceProbability(middle, u, lower, upper) < conformance) return undefined;
  // Both tails count: the guard band is the least distance from a limit at which the two together allow it.
  let tooNear = Math.min(u * normalQuantile(conformance), middle - lower);
  if (normalCdf((tooNear - (upper - lower)) / u) < Number.EPSILON / 100) {
    return { lower: lower + tooNear, upper: upper - tooNear };
  }
  let farEnough = middle - lower;
  for (let halving = 0; halving < 60; halving++) {
    const guard = (tooNear + farEnough) / 2;
    if (conformanceProbability(upper - guard, u, lower, upper) >= conformance) farEnough = guard;
    else tooNear = guard;
  }
  return { lower: lower + farEnough, upper: upper - farEnough };
}

function limitsValid({ lower, upper, rule }: Pick<JudgeInput, "lower" | "upper" | "rule">): boolean {
  if (lower === undefined && upper === undefined) return false;
  if (lower !== undefined && !Number.isFinite(lower)) return false;
  if (upper !== undefined && !Number.isFinite(upper)) return false;
  if (lower !== undefined && upper !== undefined && lower > upper) return false;
  return rule.kind === "simple" || (rule.conformance >= 0.5 && rule.conformance < 1);
}

function bounds(lower: number | undefined, upper: number | undefined): AcceptanceLimits {
  return { ...(lower === undefined ? {} : { lower }), ...(upper === undefined ? {} : { upper }) };
}
