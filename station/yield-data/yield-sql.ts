import type { CheckedDatabase, Question } from "../records/checked-database.ts";
import { SpoiltIndex } from "../records/index-moment.ts";
import type { StoredForm } from "../records/stored-values.ts";
import type { TimeRange } from "../yield/time-ranges.ts";
import type { UnitTest } from "../yield/unit-fate.ts";
import type { PlainUnit } from "../yield/yield-count.ts";
import { askedPieces, type Piece } from "./asked-pieces.ts";
import type { FormsAmong } from "./limit-file-spans.ts";
import {
  FORMS,
  inColumns,
  NOT_LEFT_OUT,
  otherTestsSql,
  rowsOfSql,
  SUSPECTS,
  testsOfSql,
  testsSql,
  timesOf,
  unitsSql,
} from "./yield-questions.ts";

/** Units alike, which may come again: by time of their first inspection, and by what their first and newest valid tests came to. */
export type UnitsRow = [
  segment: number,
  first: number,
  last: number,
  units: number,
  parts: string,
  among: Piece,
];
/** Tests alike, which may come again, of whatever piece, by time of their end. */
export type TestsRow = [segment: number, form: number, tests: number, parts: string, among: Piece];

/** One unit, as the index knows it. */
export interface IndexedUnit {
  readonly serial: string;
  /** Null where no valid test counts. */
  readonly counted: FirstAndLast | null;
  /** Every test that counts, in any order. */
  readonly tests: readonly UnitTest[];
}

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
  readonly #database: Pick<CheckedDatabase, "prepare">;
  /** By what they ask. */
  readonly #statements = new Map<string, Question>();

  /** @throws SqliteError or SpoiltIndex where it can't be read */
  constructor(database: Pick<CheckedDatabase, "prepare">) {
    this.#database = database;
    this.last = (this.#rows("SELECT max(sequence) FROM attempts")[0]?.[0] as number | null) ?? 0;
    this.forms = this.#allForms();
  }

  /** Most forms differ only in a word or two from others: what is long in them is kept once. */
  #allForms(): Map<number, StoredForm> {
    const met = new Map<string, unknown>();
    const shared = (text: string) => {
      const known = met.get(text) ?? JSON.parse(text);
      met.set(text, known);
      return known;
    };
    return new Map(
      this.#rows(FORMS).map(([form, text, characteristics, airflow]) => [
        form as number,
        {
          ...JSON.parse(String(text)),
          characteristics: shared(String(characteristics)),
          airflow: shared(String(airflow)),
        },
      ]),
    );
  }

  /** @returns ends of the first and the newest test, ISO 8601; null where there is none @throws SpoiltIndex for what is no time */
  ends(): readonly [first: string | null, last: string | null] {
    const [first] = this.#rows("SELECT min(ended) FROM attempts");
    const [last] = this.#rows("SELECT max(ended) FROM attempts");
    const ends = [(first?.[0] as string | null) ?? null, (last?.[0] as string | null) ?? null] as const;
    if (ends.some((end) => (end === null ? this.last > 0 : Number.isNaN(Date.parse(end)))))
      throw new SpoiltIndex("The index has a test of no time.");
    return ends;
  }

  *units(segments: readonly TimeRange[], withParts: boolean): Generator<UnitsRow, void, void> {
    type Columns = [number[], number[], number[], number[], string[]?];
    const sql = unitsSql(withParts);
    for (const [pieces, [keys, firsts, lasts, units, parts]] of this.#piecewise<Columns>(sql, segments, [])) {
      for (const [at, key] of keys.entries()) {
        const among = pieceAt(pieces, key);
        yield [among.range, firsts[at] ?? 0, lasts[at] ?? 0, units[at] ?? 0, parts?.[at] ?? NO_PARTS, among];
      }
    }
  }

  /** @param leftOut numbers of tests that count for nothing */
  tests(segments: readonly TimeRange[], withParts: boolean, leftOut: readonly number[]): Iterable<TestsRow> {
    return this.#tests(testsSql(withParts), segments, [JSON.stringify(leftOut)]);
  }

  /** Those that are not the first valid test of a unit, as `units` tells. */
  otherTests(segments: readonly TimeRange[], withParts: boolean): Iterable<TestsRow> {
    return this.#tests(otherTestsSql(withParts), segments, []);
  }

  *#tests(
    sql: string,
    segments: readonly TimeRange[],
    values: readonly string[],
  ): Generator<TestsRow, void, void> {
    type Columns = [number[], number[], number[], string[]?];
    for (const [pieces, [keys, forms, tests, parts]] of this.#piecewise<Columns>(sql, segments, values)) {
      for (let at = 0; at < keys.length; at++) {
        const among = pieceAt(pieces, keys[at]);
        yield [among.range, forms[at] ?? 0, tests[at] ?? 0, parts?.[at] ?? NO_PARTS, among];
      }
    }
  }

  /** Of units first inspected in a time, and failed: form of that test, first suspect, units; the same ones may come again. */
  *suspects(
    time: Pick<TimeRange, "from_ms" | "to_ms">,
  ): Generator<[form: StoredForm, suspect: string | null, units: number], void, void> {
    type Columns = [number[], (string | null)[], number[]];
    for (const [from, until] of this.weeks(time)) {
      const [forms, suspects, units] = this.#columns<Columns>(SUSPECTS, from, until);
      for (const [at, form] of forms.entries()) {
        yield [this.form(form), suspects[at] ?? null, units[at] ?? 0];
      }
    }
  }

  /**
   * @param leftOut numbers of tests that count for nothing
   * @returns when tests of these forms first and last ended in a piece of time, ISO 8601 UTC
   * @throws SpoiltIndex where there is none
   */
  endsOf({ forms, among }: FormsAmong, leftOut: readonly number[]): readonly [first: string, last: string] {
    const [row] = this.#rows(
      `SELECT min(ended), max(ended) FROM attempts
       WHERE ended >= ? AND ended < ? AND form IN (SELECT value FROM json_each(?)) AND ${NOT_LEFT_OUT}`,
      among.from,
      among.until,
      JSON.stringify([...forms]),
      JSON.stringify(leftOut),
    );
    const [first, last] = (row ?? []) as (string | null)[];
    if (first == null || last == null) throw new SpoiltIndex("The index lacks tests that it has counted.");
    return [first, last];
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
      isoOf(from_ms),
      isoOf(to_ms),
    );
    for (const [serial, first_at, first, last, parts, tests] of rows) {
      yield { serial, first_at, first: this.form(first), last: this.form(last), parts, tests };
    }
  }

  /** @returns serials of units whose first valid test ended in a time */
  firstInspected({ from_ms, to_ms }: Pick<TimeRange, "from_ms" | "to_ms">): string[] {
    return this.#rows(
      "SELECT serial FROM units WHERE first_ended >= ? AND first_ended < ?",
      isoOf(from_ms),
      isoOf(to_ms),
    ).map(([serial]) => String(serial));
  }

  /** @returns each of these units, also one that has no test that counts */
  oneByOne(serials: readonly string[], withParts: boolean): IndexedUnit[] {
    const asked = JSON.stringify(serials);
    const tests = serials.map((): UnitTest[] => []);
    const [units, sequences, sha256s, attempts, ends, forms, suspects, parts] = this.#columns<
      [number[], number[], string[], number[], string[], number[], (string | null)[], string[]?]
    >(testsOfSql(withParts), asked);
    for (const [at, unit] of units.entries()) {
      tests[unit]?.push({
        sequence: sequences[at] ?? 0,
        sha256: sha256s[at] ?? "",
        attempt: attempts[at] ?? 0,
        at: ends[at] ?? "",
        form: this.form(forms[at] ?? 0),
        parts: parts?.[at] ?? NO_PARTS,
        suspect: suspects[at] ?? null,
      });
    }
    const counted = this.#countedOf(asked, tests, withParts);
    return serials.map((serial, unit) => ({
      serial,
      counted: counted.get(unit) ?? null,
      tests: tests[unit] ?? [],
    }));
  }

  /**
   * @returns of some units those of which a valid test counts, by their places
   * @throws SpoiltIndex where a unit's row has not as many tests as were found of it
   */
  #countedOf(
    asked: string,
    tests: readonly (readonly UnitTest[])[],
    withParts: boolean,
  ): Map<number, FirstAndLast> {
    type Columns = [
      ...[number[], (number | null)[], (string | null)[], (number | null)[], (number | null)[], number[]],
      string[]?,
    ];
    const [units, sequences, ends, firsts, lasts, counts, parts] = this.#columns<Columns>(
      rowsOfSql(withParts),
      asked,
    );
    // Tests and rows are found by two of SQLite's indices: what a page of one has lost is missed in the other.
    const places = new Map(units.map((unit, at) => [unit, at]));
    for (const [unit, { length }] of tests.entries()) {
      const had = counts[places.get(unit) ?? -1] ?? 0;
      if (length !== had) throw new SpoiltIndex(`The index has ${length} tests of a unit that had ${had}.`);
    }
    const counted = new Map<number, FirstAndLast>();
    for (const [at, unit] of units.entries()) {
      if (sequences[at] == null) continue;
      counted.set(unit, {
        first_ended: ends[at] ?? "",
        first: this.form(firsts[at] ?? 0),
        last: this.form(lasts[at] ?? 0),
        parts: parts?.[at] ?? NO_PARTS,
        suspect: tests[unit]?.find(({ sequence }) => sequence === sequences[at])?.suspect ?? null,
      });
    }
    return counted;
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
    const time = [isoOf(from_ms), isoOf(to_ms)];
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

  /** @returns how many tests it has, by the count that is kept of them, where all ended in a time; null where not all did */
  countOfAll({ from_ms, to_ms }: Pick<TimeRange, "from_ms" | "to_ms">): number | null {
    const tested = this.#tested();
    if (tested.from_ms < from_ms || tested.to_ms > to_ms) return null;
    return (this.#rows("SELECT attempts FROM counted")[0]?.[0] as number | undefined) ?? 0;
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
    return { from_ms: Date.parse(first), to_ms: Date.parse(last) + 1 };
  }

  /**
   * A question that groups by the times that are its first parameter, of never too much at once: the same groups may come again.
   * @returns the times of each, and its answer in columns
   */
  *#piecewise<Columns extends readonly [number[], ...unknown[]]>(
    sql: string,
    segments: readonly TimeRange[],
    values: readonly string[],
  ): Generator<readonly [pieces: readonly Piece[], columns: Columns], void, void> {
    for (const pieces of askedPieces(segments, this.#tested())) {
      yield [pieces, this.#columns<Columns>(sql, timesOf(pieces), ...values)];
    }
  }

  /** What is asked again and again, of one time or of some units after the other: a row of JSON arrays, one for each column. */
  #columns<Columns>(sql: string, ...values: readonly string[]): Columns {
    const statement = this.#statements.get(sql) ?? this.#database.prepare(inColumns(sql)).raw();
    this.#statements.set(sql, statement);
    const row = statement.get(...values) as unknown as readonly string[];
    return row.map((column) => JSON.parse(column) as unknown) as unknown as Columns;
  }

  #iterate<Row>(sql: string, ...values: readonly string[]): Iterable<Row> {
    return this.#database
      .prepare(sql)
      .raw()
      .iterate(...values) as Iterable<Row>;
  }
}

/** What a unit has where nobody asks for its parts. */
const NO_PARTS = "{}";

function pieceAt(pieces: readonly Piece[], key: unknown): Piece {
  const piece = pieces[Number(key)];
  if (!piece) throw new SpoiltIndex("The index has a test of a time that nobody asked for.");
  return piece;
}

function isoOf(at_ms: number): string {
  return new Date(at_ms).toISOString();
}
