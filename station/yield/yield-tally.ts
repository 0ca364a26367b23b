import { exactInterval } from "../quality/exact-interval.ts";
import type { StoredForm } from "../records/stored-values.ts";
import { findingsOf } from "./form-findings.ts";
import type { Fate } from "./unit-fate.ts";
import type { Share, YieldCounts } from "./yield-report.ts";

/** Units and tests of one time or group as they are counted; a number below zero takes back what was counted. */
export class YieldTally {
  /** In the order in which they were met; a model has its steps in the order of its limit file. */
  readonly #steps = new Map<string, { units: number; reached: number; passed: number }>();
  #inspected = 0;
  #goodAtFirst = 0;
  readonly #now = { good: 0, failed: 0, held: 0, scrapped: 0 };
  #reworked = 0;
  #reworkPassed = 0;
  #retested = 0;
  #retestPassed = 0;
  #found = 0;
  #opportunities = 0;
  #tests = 0;
  #voids = 0;

  addUnits(fate: Fate, units: number): void {
    this.#inspected += units;
    if (fate.isGoodAtFirst) this.#goodAtFirst += units;
    this.#now[fate.now] += units;
    if (fate.rework !== "none") this.#reworked += units;
    if (fate.rework === "passed") this.#reworkPassed += units;
    if (fate.retest !== "none") this.#retested += units;
    if (fate.retest === "passed") this.#retestPassed += units;
    const { steps, causes, opportunities } = findingsOf(fate.form);
    this.#found += causes.length * units;
    this.#opportunities += opportunities * units;
    for (const { step, reached, passed } of steps) {
      const known = this.#steps.get(step) ?? { units: 0, reached: 0, passed: 0 };
      this.#steps.set(step, known);
      known.units += units;
      if (reached) known.reached += units;
      if (passed) known.passed += units;
    }
  }

  addTests({ verdict }: StoredForm, tests: number): void {
    this.#tests += tests;
    if (verdict === "void") this.#voids += tests;
  }

  get isEmpty(): boolean {
    return this.#inspected === 0 && this.#tests === 0;
  }

  counts(): YieldCounts {
    const steps = [...this.#steps].flatMap(([step, { units, reached, passed }]) =>
      units === 0 ? [] : [{ step, passed: share(passed, reached) }],
    );
    return {
      inspected: this.#inspected,
      firstPass: share(this.#goodAtFirst, this.#inspected),
      good: share(this.#now.good, this.#inspected),
      failed: share(this.#now.failed, this.#inspected),
      reworked: share(this.#reworked, this.#inspected),
      scrapped: share(this.#now.scrapped, this.#inspected),
      held: share(this.#now.held, this.#inspected),
      steps,
      rolledThroughputYield: rolledThroughputYield(steps.map(({ passed }) => passed.value)),
      defects: {
        found: this.#found,
        opportunities: this.#opportunities,
        dpmo: defectsPerMillion(this.#found, this.#opportunities),
      },
      tests: this.#tests,
      voidTests: this.#voids,
      retested: share(this.#retestPassed, this.#retested),
      reworkPassed: share(this.#reworkPassed, this.#reworked),
    };
  }
}

/**
 * @param count part of `of`
 * @example share(451, 480).value // 0.939583, from 0.914381 to 0.959151
 */
export function share(count: number, of: number): Share {
  if (of === 0) return { count, of, value: null, lower: null, upper: null };
  return { count, of, value: count / of, ...exactInterval(count, of) };
}

/**
 * The yield of a unit's whole way, had it been repaired nowhere: the product of its steps' first pass yields.
 * @param yields null of a step that no unit got to
 * @returns null where there is no step, or one that nobody got to
 * @example rolledThroughputYield([0.97, 0.985, 0.992]) // 0.947806
 */
export function rolledThroughputYield(yields: readonly (number | null)[]): number | null {
  if (yields.length === 0) return null;
  return yields.reduce(
    (product: number | null, it) => (product === null || it === null ? null : product * it),
    1,
  );
}

/**
 * Defects per million opportunities.
 * @returns null without opportunities
 * @example defectsPerMillion(37, 480 * 3) // 25694.4
 */
export function defectsPerMillion(found: number, opportunities: number): number | null {
  return opportunities === 0 ? null : (1e6 * found) / opportunities;
}
