import type { IndexDatabase } from "./disk.ts";
import { formsIn } from "./index-forms.ts";
import { decodedNumbers, type StoredForm } from "./stored-values.ts";

/** A unit's first valid test, as the index has it. */
export interface FirstTest {
  readonly sequence: number;
  readonly serial: string;
  readonly sha256: string;
  /** Relative to the records folder. */
  readonly path: string;
  readonly started_at: string;
  readonly form: StoredForm;
  /** Names and numbers of tracked parts, JSON. */
  readonly parts: string;
  readonly numbers: Float64Array;
}

/** Which: of a model, with record numbers above `after` and up to `upTo`. */
export interface FirstTestsRange {
  readonly model: string;
  readonly after: number;
  readonly upTo: number;
}

interface Row {
  readonly sequence: number;
  readonly serial: string;
  readonly sha256: string;
  readonly path: string;
  readonly started_at: string;
  readonly form: number;
  readonly parts: string;
  /** A binding's rows by name have an ArrayBuffer here, those of others a Buffer. */
  readonly numbers: Uint8Array | ArrayBuffer;
}

/**
 * @param formOf where several ranges are asked for: what a form is, by its number
 * @returns first valid tests of units, drafts and references left out, in the order of recording; what is held is among them
 * @throws SpoiltIndex for a test whose form the index has not got
 */
export function firstTestsIn(
  database: Pick<IndexDatabase, "prepare">,
  { model, after, upTo }: FirstTestsRange,
  formOf = formsIn(database),
): FirstTest[] {
  // A form's text is longer than all else of a test together, and thousands of tests have the same.
  const rows = database
    .prepare(
      `SELECT a.sequence, a.serial, a.sha256, a.path, a.started_at, a.form, v.parts, v.numbers
       FROM attempts a CROSS JOIN units u ON u.serial = a.serial AND u.first_sequence = a.sequence
         CROSS JOIN stored_values v ON v.sequence = a.sequence
       WHERE a.sequence > ? AND a.sequence <= ? AND a.model = ? AND a.draft = 0 AND a.record_kind = 'unit'
       ORDER BY a.sequence`,
    )
    .all(after, upTo, model) as Row[];
  return rows.map(({ sequence, serial, sha256, path, started_at, form, parts, numbers }) => {
    return {
      sequence,
      serial,
      sha256,
      path,
      started_at,
      form: formOf(form),
      parts,
      numbers: decodedNumbers(numbers),
    };
  });
}

/** Records after each of which a window may begin. */
const STEP = 2048;
/** Units that a watch looks back on at least, where there are so many; and records that are gone through for them at most. */
const KEPT = 1500;
const MOST_STEPS = 100;

/** Where a window begins, and the tests since. */
export interface TestsWindow<Test = FirstTest> {
  readonly after: number;
  readonly tests: readonly Test[];
}

/**
 * The newest tests of a model up to a record, some fifteen hundred to three thousand. Where they begin depends on the records alone, so that a
 * station that was started anew comes to the same warnings as one that went on.
 * @param last number of the newest record
 */
export function testsWindow(
  ask: (range: FirstTestsRange) => readonly FirstTest[],
  model: string,
  last: number,
): TestsWindow {
  const steps: (readonly FirstTest[])[] = [];
  let count = 0;
  let after = last;
  for (let step = 0; after > 0 && count < KEPT && step < MOST_STEPS; step++) {
    const upTo = after;
    after = Math.floor((upTo - 1) / STEP) * STEP;
    const tests = ask({ model, after, upTo });
    count += tests.length;
    steps.push(tests);
  }
  return { after, tests: steps.reverse().flat() };
}

/** @returns the window that begins later and has enough tests by now; null while there is none */
export function laterWindow<Test extends Pick<FirstTest, "sequence">>({
  after,
  tests,
}: TestsWindow<Test>): TestsWindow<Test> | null {
  let [low, high] = [0, tests.length];
  while (low < high) {
    const middle = (low + high) >>> 1;
    if ((tests[middle]?.sequence ?? 0) <= after + STEP) low = middle + 1;
    else high = middle;
  }
  return tests.length - low >= KEPT ? { after: after + STEP, tests: tests.slice(low) } : null;
}
