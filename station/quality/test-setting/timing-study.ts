import type { DecisionRule } from "../../../limits/model.ts";
import { NoStudy } from "../study-report.ts";
import { fewerParts, globalRisks, type PopulationPart } from "./global-risk.ts";
import { between, errorOf, LEAST_CURVES, type TimingCurve } from "./setting-error.ts";
import {
  type LooksOf,
  type Production,
  type Risks,
  risksToTheEnd,
  risksWithLooks,
  type SettingRisks,
  type Timing,
} from "./setting-risks.ts";

export interface TimingInput {
  readonly limit: number;
  readonly rule: DecisionRule;
  readonly settings: readonly Timing[];
  /** As the limit file has it now. */
  readonly present?: Timing;
  /** Only these are told and chosen from; the others show how errors fall in between. All where absent. */
  readonly isOffered?: (setting: Timing) => boolean;
  readonly curves: readonly TimingCurve[];
  /** What the units tested are taken to leak. */
  readonly population: readonly PopulationPart[];
  /** Units beside them that leak so much that no setting could accept them. */
  readonly grossLeaks: number;
  /** A standard uncertainty above which the station passes nobody. */
  readonly mostUncertain: number;
  /** To be kept, as parts of all units. */
  readonly risks: Risks;
  /** Absent where everything is measured to the end. */
  readonly looksOf?: LooksOf;
}

export interface SettingFound extends SettingRisks {
  readonly keeps: boolean;
}

export interface TimingFound {
  /** Shortest first. */
  readonly settings: readonly SettingFound[];
  /** Those of them that no shorter one betters, with the chosen and the present one. */
  readonly front: readonly SettingFound[];
  /** Null where the curves are too short for it. */
  readonly present: SettingFound | null;
  /** Null where no setting keeps the risks. */
  readonly chosen: SettingFound | null;
  readonly conforming: number;
  readonly units: number;
}

/** Of fewer units nobody can say what part is near the limit. */
const LEAST_UNITS = 20;
/** Of the limit: leaks this near to each other are the same. */
const SAME_LEAK = 0.005;
/** A longer setting whose error is hardly less betters nothing. */
const BETTERS = 0.95;

/**
 * What risks and uncertainty would be at each setting, and the shortest that keeps the risks asked for.
 *
 * The station accepts by its budget, guard band included; risks are JCGM 106:2012, 9.5, over the units found, early verdicts
 * included. A setting counts as keeping them only if every longer measuring time with the same settling does, too.
 * @throws NoStudy with too few curves or units
 */
export function studyTiming(input: TimingInput): TimingFound {
  const { curves, grossLeaks, settings, limit, looksOf, isOffered = () => true } = input;
  const units = input.population.length + grossLeaks;
  refuseTooFew(curves.length, units);
  const population = fewerParts(input.population, SAME_LEAK * limit);
  const part = input.population.length / units;
  const production: Production = { ...input, population, part, curves: curves.length };
  const errors = settings.map((setting, k) => ({ ...setting, ...errorOf(curves, k, input.mostUncertain) }));
  const offered = errors.filter(isOffered).map(({ settle_s, measure_s, ...error }) => {
    const errorAfter = between(errors.filter((it) => it.settle_s === settle_s));
    const found = risksToTheEnd({ settle_s, measure_s }, error, production);
    return new Candidate(found, () =>
      looksOf ? risksWithLooks(found, errorAfter, production, looksOf) : found,
    );
  });
  const byTime = offered.sort(({ found: a }, { found: b }) => a.total_s - b.total_s || a.error - b.error);
  const front = new Set(byTime.filter(({ found }) => isSame(found, input.present)));
  let least = Number.POSITIVE_INFINITY;
  for (const candidate of byTime) {
    const { passesNobody, error } = candidate.found;
    if (passesNobody || error >= BETTERS * least) continue;
    least = error;
    front.add(candidate);
  }
  for (const candidate of front) candidate.look();
  const keepsAll = ({ found: { settle_s, measure_s } }: Candidate) =>
    byTime.every(
      ({ found }) => found.settle_s !== settle_s || found.measure_s < measure_s || keeps(found, input),
    );
  const chosen = byTime.find((candidate) => {
    if (!keepsAll(candidate)) return false;
    candidate.look();
    return keepsAll(candidate);
  });
  if (chosen) front.add(chosen);
  const told = new Map(
    byTime.map((it): [Candidate, SettingFound] => [it, { ...it.found, keeps: keepsAll(it) }]),
  );
  const all = [...told];
  const good = population.length === 0 ? null : globalRisks(population, { upper: limit }, () => 1);
  return {
    settings: [...told.values()],
    front: all.flatMap(([candidate, setting]) => (front.has(candidate) ? [setting] : [])),
    present: all.find(([, setting]) => isSame(setting, input.present))?.[1] ?? null,
    chosen: (chosen && told.get(chosen)) ?? null,
    conforming: (good?.conforming ?? 0) * part,
    units,
  };
}

/** A setting, whose looks take long to work out: only where they are told of, or decide. */
class Candidate {
  found: SettingRisks;
  #withLooks: (() => SettingRisks) | null;

  constructor(found: SettingRisks, withLooks: () => SettingRisks) {
    this.found = found;
    this.#withLooks = withLooks;
  }

  look(): void {
    this.found = this.#withLooks?.() ?? this.found;
    this.#withLooks = null;
  }
}

function refuseTooFew(curves: number, units: number): void {
  if (curves < LEAST_CURVES) {
    throw new NoStudy(
      `Only ${curves} ${curves === 1 ? "curve is" : "curves are"} long enough; ${LEAST_CURVES} at least are needed to tell how values scatter.`,
    );
  }
  if (units < LEAST_UNITS) {
    throw new NoStudy(
      `Only ${units} ${units === 1 ? "unit has" : "units have"} a leak rate; ${LEAST_UNITS} at least are needed to tell how many come near the limit.`,
    );
  }
}

function keeps(found: SettingRisks, { risks, curves }: TimingInput): boolean {
  return (
    !found.passesNobody &&
    found.falseAccept <= risks.falseAccept &&
    found.falseReject <= risks.falseReject &&
    found.withoutVerdict <= risks.falseReject * curves.length
  );
}

function isSame(a: Timing, b: Timing | undefined): boolean {
  return a.settle_s === b?.settle_s && a.measure_s === b.measure_s;
}
