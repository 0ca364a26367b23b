import type { Characteristic, ModelLimits } from "../../limits/model.ts";
import type { SimulatedUnit } from "../../sim/population.ts";
import { truthOf } from "../../sim/truth.ts";
import type { Traveller } from "../../station/records/traveller.ts";

/** Valid tests of units truly just beyond a limit, and how many of them passed. */
export interface RiskCount {
  tests: number;
  passes: number;
}

/** By decision rule: each promises another risk. */
export interface RiskCounts {
  readonly guarded: RiskCount;
  readonly simple: RiskCount;
}

export function noRisks(): RiskCounts {
  return { guarded: { tests: 0, passes: 0 }, simple: { tests: 0, passes: 0 } };
}

/** So many standard uncertainties, as the traveller itself states them, no measurement is off. */
const SIGMAS = 6;
/** Only units this close to their limit say how sharp the risk is: others are refused anyway. */
const CLOSE = 0.06;
/** Nor by more than this part of the limit, whatever the traveller states. */
const PART = 0.25;

export interface BadPass {
  readonly characteristic: string;
  readonly text: string;
}

/**
 * Holds a valid verdict on a unit against what a perfect station would have found.
 * @param counts raised by this test
 * @returns characteristics that passed though they are further beyond their limit than any measurement can be wrong
 */
export function weigh(
  traveller: Traveller,
  unit: SimulatedUnit,
  limits: ModelLimits,
  counts: RiskCounts,
): BadPass[] {
  if (traveller.verdict === "void" || traveller.reference) return [];
  const bad: BadPass[] = [];
  let worst: Characteristic | null = null;
  for (const { name, value, conforms } of truthOf(unit, limits).characteristics) {
    const characteristic = limits.characteristics.find((one) => one.name === name);
    if (conforms || !characteristic) continue;
    const limit =
      value > (characteristic.upper ?? Number.POSITIVE_INFINITY)
        ? characteristic.upper
        : characteristic.lower;
    const excess = Math.abs(value - (limit ?? 0)) / Math.abs(limit ?? 1);
    // A unit beyond two limits is refused more surely than the surer rule says.
    if (excess <= CLOSE && (worst === null || characteristic.rule.kind === "guarded")) worst = characteristic;
    if (traveller.verdict !== "pass") continue;
    const stated = traveller.characteristics.find((one) => one.name === name);
    const inUnit = stated?.upper ?? stated?.lower ?? 1;
    const margin = Math.min(PART, (SIGMAS * (stated?.uncertainty ?? 0)) / Math.abs(inUnit));
    if (excess <= margin) continue;
    bad.push({
      characteristic: name,
      text: `${traveller.serial} passed; its ${name} is ${(100 * excess).toFixed(1)} % beyond the limit, and was measured as ${stated?.value} ${stated?.unit} +- ${stated?.uncertainty}`,
    });
  }
  if (worst) {
    const count = counts[worst.rule.kind];
    count.tests++;
    if (traveller.verdict === "pass") count.passes++;
  }
  return bad;
}

/**
 * Probability of at least so many passes among so many tests, were each passed with this probability: the upper tail of the
 * binomial distribution, summed exactly in logarithms.
 * @example atLeast(1, 1, 0.05) // 0.05
 * @see Clopper and Pearson, Biometrika 26 (1934) 404-413
 */
export function atLeast(passes: number, tests: number, probability: number): number {
  if (passes <= 0) return 1;
  let sum = 0;
  let logTerm = tests * Math.log1p(-probability);
  const odds = Math.log(probability) - Math.log1p(-probability);
  for (let k = 0; k <= tests; k++) {
    if (k >= passes) sum += Math.exp(logTerm);
    logTerm += Math.log((tests - k) / (k + 1)) + odds;
  }
  return Math.min(1, sum);
}

/** A true leak below this part of its limit, and anything else this part away from its own, no sound test can fail. */
const WELL_TIGHT = 0.5;
const WELL_AWAY = 0.04;

/** Whether a unit is so far within every limit that only something outside it can make it fail. */
export function isWellWithin(unit: SimulatedUnit, limits: ModelLimits): boolean {
  const truth = truthOf(unit, limits);
  if (!truth.conforms) return false;
  return truth.characteristics.every(({ name, value }) => {
    const it = limits.characteristics.find((one) => one.name === name);
    if (!it) return false;
    if (it.measurand === "leak_rate") return value <= WELL_TIGHT * (it.upper ?? Number.POSITIVE_INFINITY);
    const { lower, upper } = it;
    return (
      (lower === undefined || value >= lower * (1 + WELL_AWAY)) &&
      (upper === undefined || value <= upper * (1 - WELL_AWAY))
    );
  });
}
