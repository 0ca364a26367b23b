import type Database from "libsql";
import type { SqlValue } from "./disk.ts";

/** What is asked of an index that nobody believes. */
export interface CheckedQuestions {
  exec(sql: string): void;
  /** A question whose rows have no bytes of their own, only numbers and texts. */
  prepare(sql: string): { all(...keys: SqlValue[]): unknown[] };
  close(): void;
}

/**
 * A database whose texts come as bytes and are read here. SQLite gives out whatever bytes it holds; the package ends the whole process,
 * past any catch, on a text that is no UTF-8, as one is in which the disk has turned a bit (tursodatabase/libsql#1223).
 * It takes some longer, so that only who looks for damage asks like this.
 * @returns questions throw TypeError for a text that is no UTF-8
 */
export function withCheckedTexts(database: Database.Database): CheckedQuestions {
  return {
    exec: (sql) => {
      database.exec(sql);
    },
    prepare: (sql) => {
      const names = database
        .prepare(sql)
        .columns()
        .map(({ name }) => `"${name}"`);
      const columns = names.map(
        (name) => `CASE typeof(${name}) WHEN 'text' THEN CAST(${name} AS BLOB) ELSE ${name} END AS ${name}`,
      );
      const asked = database.prepare(`SELECT ${columns.join(", ")} FROM (${sql})`);
      return { all: (...keys) => asked.all(...keys).map((row) => withTexts(row as object)) };
    },
    close: () => {
      database.close();
    },
  };
}

const UTF8 = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

function withTexts(row: object): Readonly<Record<string, unknown>> {
  return Object.fromEntries(
    Object.entries(row).map(([name, value]) => [
      name,
      value instanceof ArrayBuffer || ArrayBuffer.isView(value) ? UTF8.decode(value) : value,
    ]),
  );
}
