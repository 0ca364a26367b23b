import type { DecisionRule } from "../../../limits/model.ts";
import { normalCdf, normalQuantile } from "../../../limits/normal.ts";
import { NoStudy } from "../study-report.ts";
import { globalRisks, type PopulationPart } from "./global-risk.ts";

export interface Timing {
  readonly settle_s: number;
  readonly measure_s: number;
}

/** A leak rate as one curve gave it, in the unit of the limit, with the two kinds of its standard uncertainty. */
export interface RateFound {
  readonly value: number;
  /** What a leak of any size has. */
  readonly constant: number;
  /** What grows with the leak, as a part of it. */
  readonly relative: number;
}

/** One curve by every setting. */
export interface TimingCurve {
  /** By all of the curve, which stands for the truth as far as its uncertainty goes. */
  readonly longest: RateFound;
  /** In the order of the settings; null where that setting gives no verdict. */
  readonly bySetting: readonly (RateFound | null)[];
}

export interface Risks {
  readonly falseAccept: number;
  readonly falseReject: number;
}

export interface TimingInput {
  readonly limit: number;
  readonly rule: DecisionRule;
  readonly settings: readonly Timing[];
  readonly curves: readonly TimingCurve[];
  /** What the units tested are taken to leak. */
  readonly population: readonly PopulationPart[];
  /** Units beside them that leak so much that no setting could accept them. */
  readonly grossLeaks: number;
  /** A standard uncertainty above which the station passes nobody. */
  readonly mostUncertain: number;
  /** To be kept, as parts of all units. */
  readonly risks: Risks;
}

/** What a setting would be like; numbers in the unit of the limit. */
export interface SettingFound extends Timing {
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
  readonly falseAccept: number;
  readonly falseReject: number;
  /** Chance that a unit exactly at the limit is accepted. */
  readonly acceptedAtLimit: number;
  /** Curves it gives no verdict of. */
  readonly withoutVerdict: number;
  /** So uncertain, or so often without a verdict, that the station would pass nobody; the figures above say nothing then. */
  readonly passesNobody: boolean;
  readonly keeps: boolean;
}

export interface TimingFound {
  readonly settings: readonly SettingFound[];
  /** Null where no setting keeps the risks. */
  readonly chosen: SettingFound | null;
  readonly conforming: number;
  readonly units: number;
}

/** A standard deviation from fewer is known to worse than a quarter. */
export const LEAST_CURVES = 10;
/** Of fewer units nobody can say what part is near the limit. */
const LEAST_UNITS = 20;

/**
 * What risks and uncertainty would be at each setting, and the shortest that keeps the risks asked for.
 *
 * The error of a setting is what its budget says or what its values scatter about those of the whole curves, whichever is
 * more: with d their difference, Var(error) = Var(d) + u(whole curve)^2, since the difference from an efficient estimate
 * is independent of that estimate's error (Hausman, Econometrica 46 (1978) 1251, from memory). Its mean counts as a shift.
 * The station accepts by the budget, guard band included; risks are JCGM 106:2012, 9.5, over the units found. A setting
 * counts as keeping them only if every longer measuring time with the same settling does, too.
 * @throws NoStudy with too few curves or units
 */
export function studyTiming(input: TimingInput): TimingFound {
  const { curves, population, grossLeaks, settings } = input;
  const units = population.length + grossLeaks;
  if (curves.length < LEAST_CURVES) {
    throw new NoStudy(
      `Only ${curves.length} ${curves.length === 1 ? "curve is" : "curves are"} long enough; ${LEAST_CURVES} at least are needed to tell how values scatter.`,
    );
  }
  if (units < LEAST_UNITS) {
    throw new NoStudy(
      `Only ${units} ${units === 1 ? "unit has" : "units have"} a leak rate; ${LEAST_UNITS} at least are needed to tell how many come near the limit.`,
    );
  }
  const alone = settings.map((setting, k) => settingFound(setting, k, input));
  const found = alone.map((setting) => ({
    ...setting,
    keeps: alone.every(
      (other) =>
        other.settle_s !== setting.settle_s || other.measure_s < setting.measure_s || keeps(other, input),
    ),
  }));
  const [chosen = null] = found
    .filter((setting) => setting.keeps)
    .sort((a, b) => a.total_s - b.total_s || a.error - b.error);
  const good = population.length === 0 ? 0 : globalRisks(population, { upper: input.limit }, () => 1);
  const conforming = good === 0 ? 0 : (good.conforming * population.length) / units;
  return { settings: found, chosen, conforming, units };
}

function settingFound(setting: Timing, k: number, input: TimingInput): Omit<SettingFound, "keeps"> {
  const { limit, rule, curves, population, grossLeaks } = input;
  const pairs = curves.flatMap(({ longest, bySetting }) => {
    const rate = bySetting[k];
    return rate ? [{ longest, rate }] : [];
  });
  const total_s = setting.settle_s + setting.measure_s;
  const withoutVerdict = curves.length - pairs.length;
  const constant = median(pairs.map(({ rate }) => rate.constant));
  const relative = median(pairs.map(({ rate }) => rate.relative));
  // Nothing, or too little, is known of a setting that gives hardly any verdict: it accepts nobody.
  if (pairs.length < LEAST_CURVES || constant > input.mostUncertain) {
    const uncertainty = pairs.length === 0 ? 0 : Math.hypot(constant, relative * limit);
    return {
      ...setting,
      total_s,
      uncertainty,
      ...{ bias: 0, spread: 0, error: uncertainty, acceptance: 0 },
      ...{ falseAccept: 0, falseReject: 0, acceptedAtLimit: 0, withoutVerdict, passesNobody: true },
    };
  }
  const differences = pairs.map(({ rate, longest }) => rate.value - longest.value);
  const bias = mean(differences);
  const spread = deviation(differences, bias);
  const whole = median(pairs.map(({ longest }) => longest.constant));
  const constantError = Math.max(constant, Math.hypot(spread, whole));
  const errorOf = (truth: number) => Math.hypot(constantError, relative * truth);
  const acceptance = acceptanceLimit(limit, rule, constant, relative);
  const accepted = (truth: number) => normalCdf((acceptance - truth - bias) / errorOf(truth));
  const units = population.length + grossLeaks;
  const risks =
    population.length === 0
      ? { falseAccept: 0, falseReject: 0 }
      : globalRisks(population, { upper: limit }, accepted);
  const part = population.length / units;
  return {
    ...setting,
    total_s,
    uncertainty: Math.hypot(constant, relative * limit),
    bias,
    spread,
    error: errorOf(limit),
    acceptance,
    falseAccept: risks.falseAccept * part,
    falseReject: risks.falseReject * part,
    acceptedAtLimit: accepted(limit),
    withoutVerdict,
    passesNobody: false,
  };
}

function keeps(found: Omit<SettingFound, "keeps">, { risks, curves }: TimingInput): boolean {
  return (
    !found.passesNobody &&
    found.falseAccept <= risks.falseAccept &&
    found.falseReject <= risks.falseReject &&
    found.withoutVerdict <= risks.falseReject * curves.length
  );
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

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function deviation(values: readonly number[], about: number): number {
  return Math.sqrt(values.reduce((sum, value) => sum + (value - about) ** 2, 0) / (values.length - 1));
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  const upper = sorted[Math.floor(middle)] ?? 0;
  return Number.isInteger(middle) ? (upper + (sorted[middle - 1] ?? 0)) / 2 : upper;
}
