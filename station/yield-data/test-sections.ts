import type { CheckedDatabase } from "../records/checked-database.ts";
import type { StoredForm } from "../records/stored-values.ts";
import { CycleTimes } from "../yield/cycle-time.ts";
import { type CheckedPiece, referenceChecks } from "../yield/reference-checks.ts";
import { RevisionsInForce } from "../yield/revisions-in-force.ts";
import type { YieldReport } from "../yield/yield-report.ts";
import type { TestsInIndex } from "./counts-that-agree.ts";

/** Which tests are asked about. */
export interface SectionsAsked {
  /** ISO 8601 UTC of the time asked for, the end not part of it; null: no border. */
  readonly from: string | null;
  readonly until: string | null;
  readonly model: string | null;
  readonly station: string | null;
}

/** A test as its traveller or the index tells it. */
export interface SectionTest {
  readonly form: StoredForm;
  readonly serial: string;
  /** Its end, its start where nobody saw the end; ISO 8601 UTC. */
  readonly at: string;
  readonly duration_s: number | null;
  readonly reference: CheckedPiece["reference"];
}

/** Tests of one form, all inside the time asked for. */
export interface TestsAlike {
  readonly form: StoredForm;
  readonly tests: number;
  readonly first_at: string;
  readonly last_at: string;
}

/** What an index is asked for. */
export interface IndexedTests {
  readonly database: Pick<CheckedDatabase, "prepare">;
  /** All forms of the index, by their number. */
  readonly forms: ReadonlyMap<number, StoredForm>;
  /** Numbers of tests that count for nothing, whatever the index says of them. */
  readonly leftOut: readonly number[];
  /** Times that are asked of one after the other, from and until, ISO 8601 UTC; none outside those that are asked for. */
  readonly times: Iterable<readonly [from: string, until: string]>;
}

/**
 * What tests of a time say of the station and not of units: cycle time, reference checks, limit revisions. Drafts and studies are
 * no part of it. Tests that the index lacks are given in the order in which they were recorded, before or after it.
 */
export class TestSections {
  readonly #asked: SectionsAsked;
  readonly #times = new CycleTimes();
  readonly #revisions = new RevisionsInForce();
  /** Of the index, with the number of the newest, and recorded after those. */
  readonly #indexed: (CheckedPiece & { readonly sequence: number })[] = [];
  readonly #later: CheckedPiece[] = [];

  constructor(asked: SectionsAsked) {
    this.#asked = asked;
  }

  /** Of the index's tests, which limit files judged them. */
  addAlike({ form, tests, first_at, last_at }: TestsAlike): void {
    if (!this.#isAsked(form) || !isUnit(form)) return;
    this.#revisions.add({ model: form.model, ...form.limitFile, first_at, last_at, tests });
  }

  /**
   * Once, beside `addAlike`. Grouped by SQL, one time after the other: a million tests take half a second, and no memory that grows
   * with them.
   * @returns how many valid tests, each of which has a cycle time, and how many checks
   */
  addIndexed({ database, forms, leftOut, times }: IndexedTests): Pick<TestsInIndex, "valid" | "references"> {
    const areLeftOut = leftOut.length > 0 ? " AND sequence NOT IN (SELECT value FROM json_each(?))" : "";
    const others = leftOut.length > 0 ? [JSON.stringify(leftOut)] : [];
    const isAll = [...forms.values()].every((form) => this.#isAsked(form));
    const asked = [...forms].flatMap(([number, form]) => (this.#isAsked(form) ? [number] : []));
    const ofAsked = isAll ? "" : " AND form IN (SELECT value FROM json_each(?))";
    const values = isAll ? others : [JSON.stringify(asked), ...others];
    const asking = (sql: string) =>
      database.prepare(sql.replace("ASKED", `ended >= ? AND ended < ?${ofAsked}${areLeftOut}`)).raw();
    let valid = 0;
    const [cycleTimes, checks] = [asking(CYCLE_TIMES), asking(CHECKS)];
    for (const [from, until] of times) {
      const [durations, counts] = cycleTimes.get(from, until, ...values) as unknown as [string, string];
      const tests = JSON.parse(counts) as number[];
      for (const [at, duration_s] of (JSON.parse(durations) as number[]).entries())
        this.#times.add(duration_s, tests[at]);
      valid += tests.reduce((sum, those) => sum + those, 0);
      for (const row of checks.iterate(from, until, ...values)) {
        const [sequence, checks, serial, model, verdict, at, ...reading] = row as CheckRow;
        this.#indexed.push({ sequence, checks, serial, model, verdict, at, reference: readingOf(reading) });
      }
    }
    // A clock may have been put back.
    this.#indexed.sort((a, b) => a.sequence - b.sequence);
    return { valid, references: this.#indexed.reduce((sum, it) => sum + it.checks, 0) };
  }

  /** A test that counts or not, inside the time asked for or not. */
  add({ form, serial, at, duration_s, reference }: SectionTest): void {
    const { from, until } = this.#asked;
    if (!this.#isAsked(form) || (from !== null && at < from) || (until !== null && at >= until)) return;
    if (isValidUnit(form)) this.#times.add(duration_s);
    const { model, limitFile, verdict } = form;
    if (isUnit(form)) this.#revisions.add({ model, ...limitFile, first_at: at, last_at: at, tests: 1 });
    if (isReference(form)) this.#later.push({ serial, model, verdict, checks: 1, at, reference });
  }

  figures(): Pick<YieldReport, "cycleTime" | "referenceChecks" | "limitRevisions"> {
    return {
      cycleTime: this.#times.figures(),
      referenceChecks: referenceChecks([...this.#indexed, ...this.#later]),
      limitRevisions: this.#revisions.figures(),
    };
  }

  #isAsked({ model, station }: StoredForm): boolean {
    const { model: wanted, station: at } = this.#asked;
    return (wanted === null || wanted === model) && (at === null || at === station);
  }
}

function isUnit({ recordKind, draft }: StoredForm): boolean {
  return recordKind === "unit" && !draft;
}

function isValidUnit(form: StoredForm): boolean {
  return isUnit(form) && form.verdict !== "void";
}

function isReference({ recordKind, draft }: StoredForm): boolean {
  return recordKind === "reference" && !draft;
}

type CheckRow = [
  sequence: number,
  checks: number,
  serial: string,
  model: string,
  verdict: CheckedPiece["verdict"],
  at: string,
  measured: number | null,
  certified: number | null,
  tolerance: number | null,
  unit: string | null,
];

function readingOf([measured, certified, tolerance, unit]: readonly [
  number | null,
  number | null,
  number | null,
  string | null,
]): CheckedPiece["reference"] {
  return certified === null || tolerance === null || unit === null
    ? null
    : { measured, certified, tolerance, unit };
}

// Answered by the index over ends alone; as two JSON arrays, which come here in less time than rows.
const CYCLE_TIMES = `SELECT json_group_array(cycle_s), json_group_array(tests) FROM (
    SELECT cycle_s, count(*) AS tests FROM attempts WHERE ASKED AND cycle_s IS NOT NULL GROUP BY cycle_s)`;
// What is no aggregate comes from the row of the greatest number: SQLite's own rule for a single max().
const CHECKS = `SELECT max(sequence), count(*), serial, model, verdict, ended, measured, certified, tolerance, unit FROM attempts
  WHERE ASKED AND record_kind = 'reference' AND draft = 0
  GROUP BY serial, model, verdict, certified IS NULL, tolerance IS NULL, unit IS NULL`;
