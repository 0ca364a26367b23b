import { Buffer, isUtf8 } from "node:buffer";
import Database from "libsql";
import type { SqlValue } from "./disk.ts";

/** What a database is asked. */
export interface Question {
  /** Rows are lists from here on. */
  raw(): Question;
  get(...keys: SqlValue[]): unknown;
  all(...keys: SqlValue[]): unknown[];
  iterate(...keys: SqlValue[]): IterableIterator<unknown>;
  /** Many are given as one list: the package copies what it is given one by one. */
  run(...values: (SqlValue | SqlValue[])[]): unknown;
}

/**
 * A database whose texts come as bytes and are read here. SQLite gives out whatever bytes it holds; the package ends the whole process,
 * past any catch, on a text that is no UTF-8 (tursodatabase/libsql#1223), as one is in eight in which the disk has turned a bit. A
 * station must not stop for it.
 */
export class CheckedDatabase {
  readonly #database: Database.Database;

  /** @param address a path, or SQLite's own form of one, with options @throws SqliteError */
  constructor(address: string) {
    this.#database = new Database(address);
  }

  exec(sql: string): void {
    this.#database.exec(sql);
  }

  /** @returns what throws an SqliteError where it finds a text that is no UTF-8 */
  prepare(sql: string): Question {
    const given = this.#database.prepare(sql);
    // What a pragma tells is no text of the file's, and can't be asked for inside of another question.
    if (!given.reader || sql.startsWith("PRAGMA")) return given as unknown as Question;
    const columns = given.columns();
    const asBytes = columns.map(({ name, type }, at) => {
      const bytes = `CAST(c${at} AS BLOB)`;
      const value = type === "BLOB" ? bytes : `CASE typeof(c${at}) WHEN 'text' THEN ${bytes} ELSE c${at} END`;
      return `${value} AS "${name.replaceAll('"', '""')}"`;
    });
    const names = columns.map((_, at) => `c${at}`);
    const asked = this.#database.prepare(
      `WITH asked (${names.join(", ")}) AS (${sql}) SELECT ${asBytes.join(", ")} FROM asked`,
    );
    return new CheckedQuestion(asked, columns);
  }

  close(): void {
    this.#database.close();
  }
}

type Row = Record<string | number, unknown>;

class CheckedQuestion implements Question {
  readonly #asked: Database.Statement;
  readonly #places: readonly number[];
  /** Where a row may have a text: names, or places in a list. */
  #keys: readonly (string | number)[];

  constructor(asked: Database.Statement, columns: readonly Database.ColumnDefinition[]) {
    this.#asked = asked;
    const textual = columns
      .map(({ name, type }, at) => ({ name, type, at }))
      .filter(({ type }) => type !== "BLOB");
    this.#keys = textual.map(({ name }) => name);
    this.#places = textual.map(({ at }) => at);
  }

  raw(): this {
    this.#asked.raw();
    this.#keys = this.#places;
    return this;
  }

  get(...keys: SqlValue[]): unknown {
    const row = this.#asked.get(...keys) as Row | undefined;
    return row && this.#read(row);
  }

  all(...keys: SqlValue[]): unknown[] {
    const rows = this.#asked.all(...keys) as Row[];
    for (const row of rows) this.#read(row);
    return rows;
  }

  *iterate(...keys: SqlValue[]): IterableIterator<unknown> {
    for (const row of this.#asked.iterate(...keys)) yield this.#read(row as Row);
  }

  run(...values: (SqlValue | SqlValue[])[]): unknown {
    return this.#asked.run(...values);
  }

  /** The row's own values are put in place of its bytes: thousands of rows are read. */
  #read(row: Row): Row {
    for (const key of this.#keys) {
      const value = row[key];
      if (typeof value === "object" && value !== null) row[key] = textOf(value as Buffer | ArrayBuffer);
    }
    return row;
  }
}

function textOf(value: Buffer | ArrayBuffer): string {
  const bytes = Buffer.isBuffer(value) ? value : Buffer.from(value);
  if (!isUtf8(bytes)) throw new Database.SqliteError("a text of the index is no UTF-8", "SQLITE_CORRUPT", 11);
  return bytes.toString("utf8");
}
