import type { CheckedDatabase } from "./checked-database.ts";
import type { UnitRow } from "./unit-row.ts";

/** A row of the index's table `units` that is not what the index's own attempts come to. */
export interface UnitDifference {
  readonly serial: string;
  /** By the table's column; null where there is no such row, or should be none. */
  readonly columns: readonly string[] | null;
}

interface CountedTest {
  readonly serial: string;
  readonly attempt: number;
  readonly sequence: number;
  readonly verdict: string;
  readonly attempt_kind: string;
  readonly ended: string;
  readonly form: number;
  readonly parts: string | null;
}

/** Tests looked at at once. */
const AT_ONCE = 2000;

/**
 * Holds the index's table `units` against its tables of attempts and stored values, of which somebody else has seen whether they
 * say what the travellers say. Each unit is added up here once more, and not as it was added up when it was recorded.
 * @param database looked at as it is when this begins, whatever is written meanwhile
 * @returns what differs, some thousand tests at a time, often nothing
 */
export function* unitDifferences(
  database: CheckedDatabase,
): Generator<readonly UnitDifference[], void, void> {
  const page = database.prepare(
    `SELECT a.serial, a.attempt, a.sequence, a.verdict, a.attempt_kind, a.ended, a.form, v.parts
     FROM attempts a LEFT JOIN stored_values v ON v.sequence = a.sequence
     WHERE a.record_kind = 'unit' AND a.draft = 0 AND (a.serial, a.attempt) > (?, ?)
     ORDER BY a.serial, a.attempt LIMIT ${AT_ONCE}`,
  );
  const between = database.prepare("SELECT * FROM units WHERE serial > ? AND serial <= ?");
  const beyond = database.prepare("SELECT * FROM units WHERE serial > ?");
  database.exec("BEGIN");
  try {
    // No serial is empty.
    let last = { serial: "", attempt: 0 };
    let compared = "";
    let pending: CountedTest[] = [];
    for (;;) {
      const tests = page.all(last.serial, last.attempt) as CountedTest[];
      const isEnd = tests.length < AT_ONCE;
      last = tests.at(-1) ?? last;
      pending.push(...tests);
      // The last unit may go on behind this page.
      const { serial } = last;
      const whole = isEnd ? pending : pending.filter((it) => it.serial !== serial);
      pending = isEnd ? [] : pending.filter((it) => it.serial === serial);
      const end = whole.at(-1)?.serial;
      if (isEnd) yield compare(unitRows(whole), beyond.all(compared) as UnitRow[]);
      else if (end !== undefined) yield compare(unitRows(whole), between.all(compared, end) as UnitRow[]);
      if (isEnd) return;
      compared = end ?? compared;
    }
  } finally {
    database.exec("COMMIT");
  }
}

function compare(expected: readonly UnitRow[], found: readonly UnitRow[]): UnitDifference[] {
  const rows = new Map(found.map((row) => [row.serial, row]));
  const differences: UnitDifference[] = [];
  for (const unit of expected) {
    const row = rows.get(unit.serial);
    rows.delete(unit.serial);
    if (row === undefined) differences.push({ serial: unit.serial, columns: null });
    else {
      const columns = Object.keys(unit).filter(
        (column) => row[column as keyof UnitRow] !== unit[column as keyof UnitRow],
      );
      if (columns.length > 0) differences.push({ serial: unit.serial, columns });
    }
  }
  for (const serial of rows.keys()) differences.push({ serial, columns: null });
  return differences;
}

function unitRows(tests: readonly CountedTest[]): UnitRow[] {
  const units = new Map<string, CountedTest[]>();
  for (const test of tests) {
    const ofUnit = units.get(test.serial);
    if (ofUnit) ofUnit.push(test);
    else units.set(test.serial, [test]);
  }
  return [...units].map(([serial, ofUnit]) => unitRow(serial, ofUnit));
}

function unitRow(serial: string, tests: readonly CountedTest[]): UnitRow {
  const valid = tests.filter(({ verdict }) => verdict !== "void").sort((a, b) => a.sequence - b.sequence);
  const [first, last] = [valid[0], valid.at(-1)];
  return {
    serial,
    first_sequence: first?.sequence ?? null,
    first_ended: first?.ended ?? null,
    first_form: first?.form ?? null,
    first_parts: first?.parts ?? null,
    last_sequence: last?.sequence ?? null,
    last_form: last?.form ?? null,
    tests: tests.length,
    voids: tests.length - valid.length,
    retests: valid.filter(({ attempt_kind }) => attempt_kind === "retest").length,
    reworks: valid.filter(({ attempt_kind }) => attempt_kind === "after_rework").length,
  };
}
