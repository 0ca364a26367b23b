import type { StoredForm } from "../records/stored-values.ts";
import { placeIn } from "./record-asked.ts";
import { RecordedTests, type TestsQuery } from "./recorded-tests.ts";

/** What came of the tests of one day, shift, lot or whatever was asked. */
export interface VerdictCount {
  /** Of `by`; "" where nothing was asked. */
  readonly group: string;
  /** Of `per`; "" where nothing was asked. */
  readonly period: string;
  /** Units tested. */
  readonly tested: number;
  /** Units that failed. */
  readonly failed: number;
  /** Everything that was found wrong with them: one or more for each that failed. */
  readonly findings: number;
}

export interface VerdictCounts {
  /** In the order in which each was first met. */
  readonly counts: readonly VerdictCount[];
  readonly by: string | undefined;
  readonly subject: string;
  readonly source: string;
  readonly notes: readonly string[];
}

export type VerdictsQuery = TestsQuery & {
  /** Only what this one came to; the whole unit's verdict where it is not given. */
  readonly characteristic?: string | undefined;
};

/**
 * How many units failed of how many tested, from the tests that `RecordedTests` takes: each unit once unless all attempts are
 * asked for.
 * @throws UsageError where there is no valid test; RecordError where the folder can't be read
 */
export async function verdictCounts(query: VerdictsQuery): Promise<VerdictCounts> {
  const tests = new RecordedTests(query);
  const counts = new Map<string, { -readonly [key in keyof VerdictCount]: VerdictCount[key] }>();
  const results = new Map<StoredForm, Result | null>();
  let total = 0;
  for await (const test of tests.all()) {
    const { form } = test.attempt;
    const known = results.get(form);
    const result = known === undefined ? resultOf(form, query.characteristic) : known;
    results.set(form, result);
    if (result === null) {
      tests.left.add("not judged");
      continue;
    }
    tests.take(test);
    total++;
    const key = JSON.stringify([test.group, test.period]);
    const count = counts.get(key) ?? {
      group: test.group,
      period: test.period,
      tested: 0,
      failed: 0,
      findings: 0,
    };
    counts.set(key, count);
    count.tested++;
    if (result.findings > 0) count.failed++;
    count.findings += result.findings;
  }
  if (total === 0)
    throw tests.nothingFound(
      query.characteristic === undefined ? "valid test" : `verdict on ${query.characteristic}`,
    );
  return {
    counts: [...counts.values()],
    by: tests.by,
    subject: `${query.characteristic === undefined ? "units" : `${query.characteristic.replaceAll("_", " ")}`} of ${query.model}`,
    source: tests.sourceText(),
    notes: tests.left.notes(total),
  };
}

interface Result {
  readonly findings: number;
}

/** @returns null where attempts of this form say nothing of it */
function resultOf(form: StoredForm, characteristic: string | undefined): Result | null {
  if (characteristic !== undefined) {
    const it = form.characteristics[placeIn(form.characteristics, characteristic)];
    if (!it || it.verdict === "void") return null;
    return { findings: it.verdict === "fail" ? 1 : 0 };
  }
  if (form.verdict !== "fail") return { findings: 0 };
  // A body that can't be filled fails without any value.
  return { findings: Math.max(1, form.characteristics.filter(({ verdict }) => verdict === "fail").length) };
}
