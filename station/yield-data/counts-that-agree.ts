import { counts } from "../records/doubts.ts";
import { SpoiltIndex } from "../records/index-moment.ts";
import type { StoredForm } from "../records/stored-values.ts";

/** How many tests of a time an index has, by one of SQLite's own indices. */
export interface TestsInIndex {
  /** All of them, of reference pieces and drafts as well; null where nobody counted. */
  readonly tests: number | null;
  /** Of those asked for, valid ones of units, and checks of reference pieces; drafts left out. */
  readonly valid: number;
  readonly references: number;
}

/** Counts tests as they are met. */
export class CountOfTests implements TestsInIndex {
  tests = 0;
  valid = 0;
  references = 0;

  add(form: StoredForm, tests: number, isAsked: boolean): void {
    this.tests += tests;
    if (!isAsked || form.draft) return;
    if (!counts(form)) this.references += tests;
    else if (form.verdict !== "void") this.valid += tests;
  }
}

/**
 * SQLite believes a page of an index that has lost rows, as long as the page is sound: what one of them answers is held against
 * what another does.
 * @param counted by units' first tests and the index over all other tests
 * @param had by the indices over ends, and over checks of reference pieces
 * @throws SpoiltIndex where they differ
 */
export function requireAgreement(counted: TestsInIndex, had: TestsInIndex): void {
  const pairs = [
    ["tests", counted.tests, had.tests ?? counted.tests],
    ["valid tests", counted.valid, had.valid],
    ["checks of reference pieces", counted.references, had.references],
  ] as const;
  for (const [what, one, other] of pairs)
    if (one !== other) throw new SpoiltIndex(`The index counts ${one} ${what} where it has ${other}.`);
}
