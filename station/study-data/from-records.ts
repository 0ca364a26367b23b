import { DIMENSION_OF } from "../../limits/measurand.ts";
import { formatNumber } from "../../limits/print-quantity.ts";
import { convert, quoted } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { localDay } from "../records/local-time.ts";
import { PER_CHARACTERISTIC, type StoredCharacteristic, type StoredForm } from "../records/stored-values.ts";
import { placeIn, type RecordsQuery } from "./record-asked.ts";
import { type RecordedTest, RecordedTests } from "./recorded-tests.ts";

/** Values as travellers have them, in the unit of the first one; column by column, since there may be a million. */
export interface RecordedValues {
  /** In the order of recording. */
  readonly values: readonly number[];
  /** Of each value: its unit's serial. */
  readonly serials: readonly string[];
  /** Of each value: when its attempt began, wall time. */
  readonly started_ms: readonly number[];
  /** Of each value: what it has for `by`; "" where nothing was asked. */
  readonly groups: readonly string[];
  /** Of each value: its day or shift, for `per`; "" where nothing was asked. */
  readonly periods: readonly string[];
  /** What the groups are, as the limit file names it; undefined where nothing was asked. */
  readonly by: string | undefined;
  /** The characteristic's name in the limit file. */
  readonly name: string;
  /** Of values and limits. */
  readonly unit: string;
  /** As last judged by. */
  readonly lower: number | undefined;
  readonly upper: number | undefined;
  /** "leak rate of TUB-12" */
  readonly subject: string;
  /** Which records these are, for a page. */
  readonly source: string;
  /** How many are of units that failed, for whatever reason. */
  readonly failed: number;
  /** What was left out, and what is to be known of the rest. */
  readonly notes: readonly string[];
}

/** Limits that were judged by, and from which attempt on. */
interface LimitsUsed {
  readonly lower: number | undefined;
  readonly upper: number | undefined;
  readonly revision: number;
  readonly from: string;
}

/**
 * Values of a characteristic, of the tests that `RecordedTests` takes. Memory holds the values and nothing else of the records.
 * @throws UsageError where there is no such value, and what there is; RecordError where the folder can't be read
 */
export async function recordedValues(query: RecordsQuery): Promise<RecordedValues> {
  const tests = new RecordedTests(query);
  const { left } = tests;
  const plans = new FormPlans(query.characteristic);
  const used: LimitsUsed[] = [];
  const [values, started_ms]: [number[], number[]] = [[], []];
  const [serials, groups, periods]: [string[], string[], string[]] = [[], [], []];
  let failed = 0;
  // One text for all values of a group, and not one each.
  const known = new Map<string, string>();
  const kept = (text: string) => {
    const it = known.get(text);
    if (it === undefined) known.set(text, text);
    return it ?? text;
  };
  for await (const test of tests.all()) {
    const { attempt } = test;
    const plan = plans.of(attempt.form);
    const value = plan ? attempt.numbers[PER_CHARACTERISTIC * plan.place] : undefined;
    if (plan === null || value === undefined || Number.isNaN(value)) {
      left.add("no value");
      if (attempt.form.verdict === "fail") left.failedWithoutValue++;
      continue;
    }
    if (query.passedOnly && attempt.form.verdict !== "pass") {
      left.add("failed");
      continue;
    }
    tests.take(test);
    if (attempt.form.verdict === "fail") failed++;
    if (plan.isEarly) left.early++;
    noteLimits(used, test, plan);
    values.push(plan.inUnit(value));
    serials.push(attempt.serial);
    started_ms.push(test.started_ms);
    groups.push(kept(test.group));
    periods.push(kept(test.period));
  }
  const { told } = plans;
  if (!told || values.length === 0) throw nothingFound(query, tests, plans);
  const last = used.at(-1);
  return {
    failed,
    ...{ values, serials, started_ms, groups, periods, by: tests.by },
    ...told,
    lower: last?.lower,
    upper: last?.upper,
    subject: `${told.name} of ${query.model}`,
    source: tests.sourceText(),
    notes: [...left.notes(values.length), ...limitNotes(used, told.unit)],
  };
}

/**
 * The limits that units were last judged by, in a unit.
 * @returns none where no unit was judged by the characteristic
 */
export async function unitLimits(
  query: RecordsQuery,
  unit: string,
): Promise<{ readonly lower: number | undefined; readonly upper: number | undefined }> {
  const tests = new RecordedTests({ ...query, attempts: "all" });
  const plans = new FormPlans(query.characteristic, unit);
  let last: FormPlan | null = null;
  for await (const { attempt } of tests.all()) last = plans.of(attempt.form) ?? last;
  return { lower: last?.lower, upper: last?.upper };
}

/** Where a value stands in the attempts of one form, and what it is there. */
interface FormPlan extends Pick<LimitsUsed, "lower" | "upper"> {
  readonly place: number;
  readonly isEarly: boolean;
  /** From the form's unit to that of the first value. */
  readonly inUnit: (value: number) => number;
}

/** Looks the characteristic up once for all attempts that are alike. */
class FormPlans {
  readonly #asked: string;
  readonly #unit: string | undefined;
  readonly #plans = new Map<StoredForm, FormPlan | null>();
  readonly #names = new Set<string>();
  #told: { readonly name: string; readonly unit: string } | undefined;

  /** @param unit that of the first attempt where it is not given */
  constructor(asked: string, unit?: string) {
    this.#asked = asked;
    this.#unit = unit;
  }

  /** Name and unit, of the first attempt that has the characteristic. */
  get told() {
    return this.#told;
  }

  /** Characteristics met so far. */
  get names(): readonly string[] {
    return [...this.#names].sort();
  }

  /** @returns null where attempts of this form have no such characteristic */
  of(form: StoredForm): FormPlan | null {
    const known = this.#plans.get(form);
    if (known !== undefined) return known;
    for (const { name } of form.characteristics) this.#names.add(name);
    const place = placeIn(form.characteristics, this.#asked);
    const it = form.characteristics[place];
    const plan = it ? this.#planOf(it, place) : null;
    this.#plans.set(form, plan);
    return plan;
  }

  #planOf(it: StoredCharacteristic, place: number): FormPlan {
    this.#told ??= { name: it.name, unit: this.#unit ?? it.unit };
    const { unit } = this.#told;
    const inUnit =
      it.unit === unit
        ? (value: number) => value
        : (value: number) => convert(value, it.unit, unit, DIMENSION_OF[it.measurand]);
    return {
      place,
      isEarly: it.how?.looks === "early",
      inUnit,
      lower: it.lower === undefined ? undefined : inUnit(it.lower),
      upper: it.upper === undefined ? undefined : inUnit(it.upper),
    };
  }
}

function noteLimits(used: LimitsUsed[], { attempt }: RecordedTest, { lower, upper }: FormPlan): void {
  const last = used.at(-1);
  if (last && isNear(last.lower, lower) && isNear(last.upper, upper)) return;
  // Two revisions in turns would fill memory; of a hundred changes the newest matters.
  if (used.length === MOST_CHANGES) used.pop();
  used.push({ lower, upper, revision: attempt.form.limitFile.revision, from: attempt.started_at });
}

const MOST_CHANGES = 100;

/** The same limit in another unit may differ in its last digit. */
function isNear(a: number | undefined, b: number | undefined): boolean {
  if (a === undefined || b === undefined) return a === b;
  return Math.abs(a - b) <= 1e-9 * Math.max(Math.abs(a), Math.abs(b));
}

function limitNotes(used: readonly LimitsUsed[], unit: string): string[] {
  if (used.length < 2) return [];
  const words = used.slice(-5).map(({ lower, upper, revision, from }) => {
    const low = lower === undefined ? "" : `lower ${formatNumber(lower)} `;
    const high = upper === undefined ? "" : `upper ${formatNumber(upper)} `;
    return `${low}${high || (lower === undefined ? "none " : "")}${unit} (revision ${revision}) from ${localDay(from)}`;
  });
  const changes = used.length === MOST_CHANGES ? "often" : `${used.length - 1} times`;
  const more = used.length > words.length ? ` ${changes}` : "";
  return [`The limits changed${more} while these units were tested: ${words.join(", ")}. The last are used.`];
}

function nothingFound(
  { folder, model, characteristic }: RecordsQuery,
  tests: RecordedTests,
  plans: FormPlans,
): UsageError {
  const { names } = plans;
  if (names.length === 0) return tests.nothingFound("valid test");
  if (plans.told)
    return new UsageError(
      `No valid test of ${model} in ${folder} has a value of ${plans.told.name}. ${tests.left.notes(0).join(" ")}`,
    );
  return new UsageError(
    `No value of ${quoted(characteristic)} in ${folder}: ${model} has ${names.join(", ")}.`,
  );
}
