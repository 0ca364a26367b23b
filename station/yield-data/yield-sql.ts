import type Database from "libsql";
import { formOf } from "../records/index-forms.ts";
import { SpoiltIndex } from "../records/index-moment.ts";
import type { StoredForm } from "../records/stored-values.ts";
import type { TimeRange } from "../yield/time-ranges.ts";
import type { UnitTest } from "../yield/unit-fate.ts";
import type { PlainUnit } from "../yield/yield-count.ts";
import { askedPieces, type Piece } from "./asked-pieces.ts";

/** Units alike, which may come again: by time of their first inspection, and by what their first and newest valid tests came to. */
export type UnitsRow = [segment: number, first: number, last: number, parts: string, units: number];
/** Tests alike, which may come again, of whatever piece, by time of their end. */
export type TestsRow = [
  segment: number,
  form: number,
  parts: string,
  tests: number,
  first_at: string,
  last_at: string,
];

const INSIDE = "s.value ->> 0";
const BEFORE = "s.value ->> 1";

/**
 * The one question of a yield, of every week of however many years: every unit, by day or whatever was asked, and by what it came
 * to. Its only parameter is `timesOf` the pieces; the covering index over first inspections answers it alone, unless parts are asked for.
 */
function unitsSql(withParts: boolean): string {
  const parts = withParts ? "u.first_parts" : "'{}'";
  return `SELECT s.key, u.first_form, u.last_form, ${parts}, count(*)
    FROM json_each(?) s CROSS JOIN units u ON u.first_ended >= ${INSIDE} AND u.first_ended < ${BEFORE}
    GROUP BY s.key, u.first_form, u.last_form${withParts ? ", u.first_parts" : ""}`;
}

/** The tests of the same times. Parameters: `timesOf` the pieces, and a JSON array of the numbers of those left out, if any. */
function testsSql(withParts: boolean, areLeftOut: boolean): string {
  const parts = withParts ? "v.parts" : "'{}'";
  return `SELECT s.key, a.form, ${parts}, count(*), min(a.ended), max(a.ended)
    FROM json_each(?) s CROSS JOIN attempts a ON a.ended >= ${INSIDE} AND a.ended < ${BEFORE}
    ${withParts ? "CROSS JOIN stored_values v ON v.sequence = a.sequence" : ""}
    ${areLeftOut ? "WHERE a.sequence NOT IN (SELECT value FROM json_each(?))" : ""}
    GROUP BY s.key, a.form${withParts ? ", v.parts" : ""}`;
}

/** @returns the times as `unitsSql` and `testsSql` take them: a JSON array of from and to, ISO 8601 UTC */
function timesOf(pieces: readonly Piece[]): string {
  return JSON.stringify(pieces.map(({ from, until }) => [from, until]));
}

/**
 * First inspections that failed, by form and by what they were suspected of first. A first attempt that counts is the first
 * inspection; for a later one the unit is asked. Parameters: from, until, and a JSON array of forms of units that failed.
 */
const SUSPECTS = `SELECT a.form, a.suspect, count(*) FROM attempts a
  WHERE a.ended >= ? AND a.ended < ? AND a.form IN (SELECT value FROM json_each(?))
    AND (a.attempt = 1
      OR EXISTS (SELECT 1 FROM units u WHERE u.serial = a.serial AND u.first_sequence = a.sequence))
  GROUP BY a.form, a.suspect`;

/** A row of the table of units, and what its first inspection was suspected of. */
export interface FirstAndLast {
  readonly first_ended: string;
  readonly first: StoredForm;
  readonly last: StoredForm;
  readonly parts: string;
  readonly suspect: string | null;
}

/** What the index of a folder is asked for a yield; it is asked in a transaction, so that all of it is of one moment. */
export class YieldIndex {
  /** By number. */
  readonly forms: ReadonlyMap<number, StoredForm>;
  /** The number of the newest record that the index has. */
  readonly last: number;
  readonly #database: Pick<Database.Database, "prepare">;

  /** @throws SqliteError or SpoiltIndex where it can't be read */
  constructor(database: Pick<Database.Database, "prepare">) {
    this.#database = database;
    this.last = (this.#rows("SELECT max(sequence) FROM attempts")[0]?.[0] as number | null) ?? 0;
    this.forms = new Map(
      this.#rows("SELECT form, text FROM forms").map(([form, text]) => [
        form as number,
        formOf(String(text)),
      ]),
    );
  }

  /** @returns ends of the first and the newest test, ISO 8601; null where there is none */
  ends(): readonly [first: string | null, last: string | null] {
    const [first] = this.#rows("SELECT min(ended) FROM attempts");
    const [last] = this.#rows("SELECT max(ended) FROM attempts");
    return [(first?.[0] as string | null) ?? null, (last?.[0] as string | null) ?? null];
  }

  *units(segments: readonly TimeRange[], withParts: boolean): Generator<UnitsRow, void, void> {
    yield* this.#piecewise<UnitsRow>(unitsSql(withParts), segments, []);
  }

  /** @param leftOut numbers of tests that count for nothing */
  *tests(
    segments: readonly TimeRange[],
    withParts: boolean,
    leftOut: readonly number[],
  ): Generator<TestsRow, void, void> {
    const areLeftOut = leftOut.length > 0;
    const values = areLeftOut ? [JSON.stringify(leftOut)] : [];
    yield* this.#piecewise<TestsRow>(testsSql(withParts, areLeftOut), segments, values);
  }

  /** Of units first inspected in a time, and failed: form of that test, first suspect, units; the same ones may come again. */
  *suspects(
    time: Pick<TimeRange, "from_ms" | "to_ms">,
  ): Generator<[form: StoredForm, suspect: string | null, units: number], void, void> {
    const isFailed = ({ verdict, recordKind, draft }: StoredForm) =>
      verdict === "fail" && recordKind === "unit" && !draft;
    const failing = JSON.stringify([...this.forms].flatMap(([form, it]) => (isFailed(it) ? [form] : [])));
    const asked = this.#database.prepare(SUSPECTS).raw();
    for (const [from, until] of this.weeks(time)) {
      for (const row of asked.iterate(from, until, failing)) {
        const [form, suspect, units] = row as [number, string | null, number];
        yield [this.form(form), suspect, units];
      }
    }
  }

  /** @returns the time from week to week, as far as there are tests: from and until, ISO 8601 UTC */
  *weeks(
    time: Pick<TimeRange, "from_ms" | "to_ms">,
  ): Generator<readonly [from: string, until: string], void, void> {
    for (const pieces of askedPieces([time], this.#tested())) {
      for (const { from, until } of pieces) yield [from, until];
    }
  }

  /** Each unit first inspected in a time, as if nothing had been decided about any. */
  *eachUnit({ from_ms, to_ms }: Pick<TimeRange, "from_ms" | "to_ms">): Generator<PlainUnit, void, void> {
    const rows = this.#iterate<[string, string, number, number, string, number]>(
      `SELECT serial, first_ended, first_form, last_form, first_parts, tests FROM units
       WHERE first_ended >= ? AND first_ended < ?`,
      new Date(from_ms).toISOString(),
      new Date(to_ms).toISOString(),
    );
    for (const [serial, first_at, first, last, parts, tests] of rows) {
      yield { serial, first_at, first: this.form(first), last: this.form(last), parts, tests };
    }
  }

  /** @returns serials of units whose first valid test ended in a time */
  firstInspected({ from_ms, to_ms }: Pick<TimeRange, "from_ms" | "to_ms">): string[] {
    return this.#rows(
      "SELECT serial FROM units WHERE first_ended >= ? AND first_ended < ?",
      new Date(from_ms).toISOString(),
      new Date(to_ms).toISOString(),
    ).map(([serial]) => String(serial));
  }

  /** @returns of these units those of which a valid test counts, by serial */
  unitsOf(serials: readonly string[]): Map<string, FirstAndLast> {
    const rows = this.#rows(
      `SELECT u.serial, u.first_ended, u.first_form, u.last_form, u.first_parts, a.suspect
       FROM json_each(?) s CROSS JOIN units u ON u.serial = s.value
       CROSS JOIN attempts a ON a.sequence = u.first_sequence`,
      JSON.stringify(serials),
    );
    return new Map(
      rows.map(([serial, first_ended, first, last, parts, suspect]) => [
        String(serial),
        {
          first_ended: String(first_ended),
          first: this.form(first as number),
          last: this.form(last as number),
          parts: String(parts),
          suspect: suspect as string | null,
        },
      ]),
    );
  }

  /** @returns every test of these units that counts, by serial and in order of the attempts */
  historiesOf(serials: readonly string[], withParts: boolean): Map<string, UnitTest[]> {
    const histories = new Map<string, UnitTest[]>();
    const rows = this.#rows(
      `SELECT a.serial, a.sequence, a.sha256, a.attempt, a.ended, a.form, ${withParts ? "v.parts" : "'{}'"}, a.suspect
       FROM json_each(?) s CROSS JOIN attempts a ON a.serial = s.value
       ${withParts ? "CROSS JOIN stored_values v ON v.sequence = a.sequence" : ""}
       WHERE a.record_kind = 'unit' AND a.draft = 0 ORDER BY a.serial, a.attempt`,
      JSON.stringify(serials),
    );
    for (const [serial, sequence, sha256, attempt, at, form, parts, suspect] of rows) {
      const test = {
        sequence: sequence as number,
        sha256: String(sha256),
        attempt: attempt as number,
        at: String(at),
        form: this.form(form as number),
        parts: String(parts),
        suspect: suspect as string | null,
      };
      const known = histories.get(String(serial));
      if (known) known.push(test);
      else histories.set(String(serial), [test]);
    }
    return histories;
  }

  /** @returns the unit that a test counts for; null for a piece, a draft, or a number that the index does not have */
  unitOf(sequence: number): string | null {
    const [row] = this.#rows(
      "SELECT serial FROM attempts WHERE sequence = ? AND record_kind = 'unit' AND draft = 0",
      sequence,
    );
    return row ? String(row[0]) : null;
  }

  /** @returns records that ended in a time; null where they are more than this */
  recorded(
    { from_ms, to_ms }: Pick<TimeRange, "from_ms" | "to_ms">,
    most: number,
  ): { readonly sequence: number; readonly path: string; readonly sha256: string }[] | null {
    const time = [new Date(from_ms).toISOString(), new Date(to_ms).toISOString()];
    const more = this.#rows(
      "SELECT 1 FROM attempts WHERE ended >= ? AND ended < ? LIMIT 1 OFFSET ?",
      ...time,
      most,
    );
    if (more.length > 0) return null;
    return this.#rows(
      "SELECT sequence, path, sha256 FROM attempts WHERE ended >= ? AND ended < ?",
      ...time,
    ).map(([sequence, path, sha256]) => ({
      sequence: sequence as number,
      path: String(path),
      sha256: String(sha256),
    }));
  }

  /** @returns where the record with this number lies; null where the index has none */
  pathOf(sequence: number): string | null {
    const [row] = this.#rows("SELECT path FROM attempts WHERE sequence = ?", sequence);
    return row ? String(row[0]) : null;
  }

  form(number: number): StoredForm {
    const form = this.forms.get(number);
    if (!form) throw new SpoiltIndex(`The index has no form ${number}.`);
    return form;
  }

  #rows(sql: string, ...values: readonly (string | number)[]): unknown[][] {
    return this.#database
      .prepare(sql)
      .raw()
      .all(...values) as unknown[][];
  }

  /** From the first test to the newest. */
  #tested(): { readonly from_ms: number; readonly to_ms: number } {
    const [first, last] = this.ends();
    if (first === null || last === null) return { from_ms: 0, to_ms: 0 };
    const [from_ms, last_ms] = [Date.parse(first), Date.parse(last)];
    if (Number.isNaN(from_ms + last_ms)) throw new SpoiltIndex("The index has a test of no time.");
    return { from_ms, to_ms: last_ms + 1 };
  }

  /** A question that groups by the times that are its first parameter, of never too much at once: the same groups may come again. */
  *#piecewise<Row extends [number, ...unknown[]]>(
    sql: string,
    segments: readonly TimeRange[],
    values: readonly string[],
  ): Generator<Row, void, void> {
    const asked = this.#database.prepare(sql).raw();
    for (const pieces of askedPieces(segments, this.#tested())) {
      for (const row of asked.iterate(timesOf(pieces), ...values) as Iterable<Row>) {
        row[0] = pieces[row[0]]?.range ?? 0;
        yield row;
      }
    }
  }

  #iterate<Row>(sql: string, ...values: readonly string[]): Iterable<Row> {
    return this.#database
      .prepare(sql)
      .raw()
      .iterate(...values) as Iterable<Row>;
  }
}
