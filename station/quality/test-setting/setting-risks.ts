import type { DecisionRule } from "../../../limits/model.ts";
import { normalCdf, normalQuantile } from "../../../limits/normal.ts";
import { earlyRisks } from "./early-risks.ts";
import type { Look } from "./early-stops.ts";
import { globalRisks, type PopulationPart } from "./global-risk.ts";
import { type ErrorFound, LEAST_CURVES } from "./setting-error.ts";

export interface Timing {
  readonly settle_s: number;
  readonly measure_s: number;
}

export interface Risks {
  readonly falseAccept: number;
  readonly falseReject: number;
}

/** What a setting would be like; numbers in the unit of the limit. */
export interface SettingRisks extends Timing, Risks {
  readonly total_s: number;
  /** Standard uncertainty of a leak at the limit, by the budget. */
  readonly uncertainty: number;
  /** Mean and standard deviation of its values less those of the whole curves. */
  readonly bias: number;
  readonly spread: number;
  /** Standard deviation of the error of a leak at the limit that the risks are worked out with. */
  readonly error: number;
  /** Largest value that is accepted. */
  readonly acceptance: number;
  /** Chance that a unit exactly at the limit is accepted. */
  readonly acceptedAtLimit: number;
  /** Curves it gives no verdict of. */
  readonly withoutVerdict: number;
  /** So uncertain, or so often without a verdict, that the station would pass nobody; the figures above say nothing then. */
  readonly passesNobody: boolean;
  /** What looks make of it, which the risks above count in; null where there are none, or nobody needed to know. */
  readonly early: EarlyFound | null;
}

export interface EarlyFound {
  /** What the risks would be without looks. */
  readonly toTheEnd: Risks;
  /** From the shut-off to the verdict of half of the good units, s. */
  readonly usual_s: number;
  /** Part of the good units that a look decides. */
  readonly decided: number;
}

/** Where looks at a setting would end it, from the standard uncertainty of a leak at the limit after some of it. */
export type LooksOf = (
  setting: Timing,
  uncertaintyAfter: (elapsed_s: number) => number,
) => readonly Pick<Look, "after_s" | "passesTo" | "failsFrom">[];

/** What settings are held against. */
export interface Production {
  readonly limit: number;
  readonly rule: DecisionRule;
  readonly population: readonly PopulationPart[];
  /** The population's part of all units: those beside it leak so much that nothing accepts them. */
  readonly part: number;
  /** How many curves there are. */
  readonly curves: number;
}

/** A setting whose units are all measured to the end. */
export function risksToTheEnd(setting: Timing, found: ErrorFound, production: Production): SettingRisks {
  const { limit } = production;
  const { verdicts, constant, relative, bias, spread } = found;
  const times = { ...setting, total_s: setting.settle_s + setting.measure_s };
  const withoutVerdict = production.curves - verdicts;
  const uncertainty = Math.hypot(constant, relative * limit);
  // Nothing, or too little, is known of a setting that gives hardly any verdict: it accepts nobody.
  if (verdicts < LEAST_CURVES) {
    return {
      ...times,
      uncertainty,
      ...{ bias: 0, spread: 0, error: uncertainty, acceptance: 0, early: null },
      ...{ falseAccept: 0, falseReject: 0, acceptedAtLimit: 0, withoutVerdict, passesNobody: true },
    };
  }
  const acceptance = acceptanceLimit(limit, production.rule, constant, relative);
  const errorAt = (truth: number) => Math.hypot(found.error, relative * truth);
  const acceptedWith = (shift: number) => (truth: number) =>
    normalCdf((acceptance - truth - shift) / errorAt(truth));
  const atWorst = acceptedWith(unfavourable(bias));
  return {
    ...times,
    uncertainty,
    ...{ bias, spread, error: errorAt(limit), acceptance },
    ...risksBy(acceptedWith(bias), atWorst, production),
    acceptedAtLimit: atWorst(limit),
    ...{ withoutVerdict, passesNobody: false, early: null },
  };
}

/**
 * The same setting with looks that may end it; itself where there are none.
 * @param errorAfter how wrong it is after some of its measuring time
 */
export function risksWithLooks(
  setting: SettingRisks,
  errorAfter: (elapsed_s: number) => ErrorFound,
  production: Production,
  looksOf: LooksOf,
): SettingRisks {
  if (setting.passesNobody) return setting;
  const { limit, rule, population } = production;
  const atLimit = ({ relative }: ErrorFound, constant: number) => Math.hypot(constant, relative * limit);
  const planned = looksOf(setting, (elapsed_s) => {
    const found = errorAfter(elapsed_s);
    return atLimit(found, found.constant);
  });
  if (planned.length === 0) return setting;
  const looks = planned.map((look): Look => {
    const found = errorAfter(look.after_s);
    // What ends early is judged by the rule as ever.
    const accepts = acceptanceLimit(limit, rule, found.constant, found.relative);
    const sd = atLimit(found, found.error);
    return { ...look, passesTo: Math.min(look.passesTo, accepts), bias: found.bias, sd };
  });
  const { bias, error: sd, acceptance: accepts, falseAccept, falseReject } = setting;
  const shiftedBy = (shift: (bias: number) => number) =>
    earlyRisks(
      looks.map((look) => ({ ...look, bias: shift(look.bias) })),
      { bias: shift(bias), sd, accepts },
      population,
      limit,
    );
  const { accepted, usualAfter_s, decided } = shiftedBy((it) => it);
  const helps = [bias, ...looks.map((look) => look.bias)].some((it) => it > 0);
  const atWorst = helps ? shiftedBy(unfavourable).accepted : accepted;
  return {
    ...setting,
    ...risksBy(accepted, atWorst, production),
    acceptedAtLimit: atWorst(limit),
    early: {
      toTheEnd: { falseAccept, falseReject },
      usual_s: setting.settle_s + (usualAfter_s ?? setting.measure_s),
      decided,
    },
  };
}

/**
 * A timer reads tight bodies high and leaking ones less so, for those lose pressure: a shift found on mostly tight bodies that
 * would keep a leak at the limit from being accepted is not counted on.
 */
function unfavourable(bias: number): number {
  return Math.min(0, bias);
}

/** @param atWorst the same, with no shift that speaks against accepting */
function risksBy(
  accepted: (truth: number) => number,
  atWorst: (truth: number) => number,
  { population, limit, part }: Pick<Production, "population" | "limit" | "part">,
): Risks {
  if (population.length === 0) return { falseAccept: 0, falseReject: 0 };
  const { falseReject } = globalRisks(population, { upper: limit }, accepted);
  const { falseAccept } = globalRisks(population, { upper: limit }, atWorst);
  return { falseAccept: falseAccept * part, falseReject: falseReject * part };
}

/**
 * The largest value a rule accepts where the uncertainty grows with the value: y + z u(y) = limit.
 * @param constant, relative u(y) = hypot(constant, relative y)
 * @see JCGM 106:2012, 8.3.2
 * @example acceptanceLimit(60, { kind: "guarded", conformance: 0.95 }, 3, 0) // 55.0654
 */
export function acceptanceLimit(
  limit: number,
  rule: DecisionRule,
  constant: number,
  relative: number,
): number {
  if (rule.kind === "simple") return limit;
  const z = normalQuantile(rule.conformance);
  let [low, high] = [-(limit + 2 * z * constant), limit];
  for (let halving = 0; halving < 100; halving++) {
    const middle = (low + high) / 2;
    if (middle + z * Math.hypot(constant, relative * middle) <= limit) low = middle;
    else high = middle;
  }
  return low;
}
