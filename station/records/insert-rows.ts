import type { IndexDatabase, SqlValue } from "./disk.ts";

/** With more to a statement it takes no less time. */
const AT_ONCE = 8;

/**
 * Puts rows into a table, in their order. Several to a statement: the way into SQLite and back takes as long as a row.
 * @param rows each with a value for every column, as many in each
 * @throws SqliteError
 */
export function insertRows(
  database: IndexDatabase,
  table: "attempts" | "stored_values",
  rows: readonly SqlValue[][],
): void {
  const inserting = (count: number) => {
    const row = `(${rows[0]?.map(() => "?").join()})`;
    return database.prepare(`INSERT INTO ${table} VALUES ${Array.from({ length: count }, () => row).join()}`);
  };
  const whole = rows.length - (rows.length % AT_ONCE);
  if (whole > 0) {
    const several = inserting(AT_ONCE);
    for (let at = 0; at < whole; at += AT_ONCE) {
      const values: SqlValue[] = [];
      // By hand: `flat` takes a third of the time that the rows themselves take.
      for (let i = at; i < at + AT_ONCE; i++) values.push(...(rows[i] ?? []));
      several.run(values);
    }
  }
  if (whole < rows.length) {
    const one = inserting(1);
    for (const row of rows.slice(whole)) one.run(row);
  }
}
