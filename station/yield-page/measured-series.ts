import { prepareLimits } from "../../limits/judge.ts";
import { PER_CHARACTERISTIC, type StoredCharacteristic } from "../records/stored-values.ts";
import type { DetailTest } from "./detail-tests.ts";
import type { MeasuredSeries } from "./yield-detail.ts";

/** What tells of a body's suction, the best first: one of them is shown. */
const SUCTION = ["largest_suction_power", "suction_power", "suction"] as const;

interface Gathered {
  readonly model: string;
  /** Of the newest inspection. */
  newest: StoredCharacteristic;
  limitsChanged: boolean;
  readonly values: number[];
  readonly uncertainties: number[];
  readonly passed: boolean[];
  readonly serials: string[];
  readonly at_ms: number[];
}

/**
 * Leak rates and one quantity of the suction for each model, at units' first inspections.
 * @param inspections units' first valid, trusted tests, in the order of recording
 */
export function measuredSeries(inspections: readonly DetailTest[]): MeasuredSeries[] {
  const all = new Map<string, Gathered>();
  const units = new Map<string, number>();
  for (const test of inspections) {
    const { form } = test;
    units.set(form.model, (units.get(form.model) ?? 0) + 1);
    for (const [k, characteristic] of form.characteristics.entries()) {
      if (!isShown(characteristic, form.characteristics)) continue;
      const value = test.numbers[PER_CHARACTERISTIC * k] ?? Number.NaN;
      if (!Number.isFinite(value) || characteristic.verdict === "void") continue;
      const gathered = gatheredOf(all, form.model, characteristic);
      if (!sameLimits(gathered.newest, characteristic)) gathered.limitsChanged = true;
      gathered.newest = characteristic;
      gathered.values.push(value);
      gathered.uncertainties.push(test.numbers[PER_CHARACTERISTIC * k + 1] ?? Number.NaN);
      gathered.passed.push(characteristic.verdict === "pass");
      gathered.serials.push(test.serial);
      gathered.at_ms.push(Date.parse(test.at));
    }
  }
  return [...all.values()]
    .sort((a, b) => rankOf(a) - rankOf(b) || (a.model < b.model ? -1 : a.model > b.model ? 1 : 0))
    .map((it) => seriesOf(it, (units.get(it.model) ?? 0) - it.values.length));
}

function isShown(it: StoredCharacteristic, all: readonly StoredCharacteristic[]): boolean {
  if (it.measurand === "leak_rate") return true;
  const best = SUCTION.find((one) => all.some(({ measurand }) => measurand === one));
  return best !== undefined && it === all.find(({ measurand }) => measurand === best);
}

/** One that is given in another unit since is another series. */
function gatheredOf(all: Map<string, Gathered>, model: string, it: StoredCharacteristic): Gathered {
  const key = JSON.stringify([model, it.name, it.unit]);
  const known = all.get(key);
  if (known) return known;
  const empty = { values: [], uncertainties: [], passed: [], serials: [], at_ms: [] };
  const made: Gathered = { model, newest: it, limitsChanged: false, ...empty };
  all.set(key, made);
  return made;
}

function sameLimits(a: StoredCharacteristic, b: StoredCharacteristic): boolean {
  const text = ({ lower, upper, rule }: StoredCharacteristic) => JSON.stringify([lower, upper, rule]);
  return a === b || text(a) === text(b);
}

function rankOf({ newest }: Gathered): number {
  return newest.measurand === "leak_rate" ? 0 : 1;
}

function seriesOf(gathered: Gathered, withoutValue: number): MeasuredSeries {
  const { newest, uncertainties, model, limitsChanged, values, passed, serials, at_ms } = gathered;
  const { name, measurand, unit, lower = null, upper = null, rule } = newest;
  const known = uncertainties.filter((u) => Number.isFinite(u) && u >= 0).sort((a, b) => a - b);
  const median = known[Math.floor(known.length / 2)] ?? 0;
  const { guard } = prepareLimits({
    rule,
    ...(lower === null ? {} : { lower }),
    ...(upper === null ? {} : { upper }),
  });
  return {
    ...{ model, characteristic: name, measurand, unit, lower, upper, limitsChanged },
    acceptedFrom: lower === null ? null : lower + guard * median,
    acceptedTo: upper === null ? null : upper - guard * median,
    conformance: rule.kind === "guarded" ? rule.conformance : null,
    ...{ values, passed, serials, at_ms, withoutValue },
  };
}
