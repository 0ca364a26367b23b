import { copyFileSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import Database from "libsql";
import { expect } from "vitest";

/** Puts a copy in the place of a folder's index, as another process would leave it: in this one SQLite may hold the file that was there. */
export function copyIndex(folder: string): string {
  const file = join(folder, ".index.db");
  renameSync(file, join(folder, ".index.old"));
  copyFileSync(join(folder, ".index.old"), file);
  return file;
}

/** Makes the first page of one of the index's tables or indices a sound one without a row. */
export function emptyPage(folder: string, name: string): void {
  const file = copyIndex(folder);
  const database = new Database(file);
  const ask = (sql: string) => Number((database.prepare(sql).raw().get() as unknown as number[])[0]);
  const page_bytes = ask("PRAGMA page_size");
  const root = ask(`SELECT rootpage FROM sqlite_schema WHERE name = '${name}'`);
  database.close();
  const bytes = readFileSync(file);
  // A page's count of its cells.
  const count = (root - 1) * page_bytes + 3;
  expect(bytes.readUInt16BE(count)).toBeGreaterThan(0);
  bytes.writeUInt16BE(0, count);
  rmSync(file);
  writeFileSync(file, bytes);
}
