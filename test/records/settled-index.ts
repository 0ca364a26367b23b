import { copyFileSync, renameSync, rmSync } from "node:fs";
import { join } from "node:path";
import Database from "libsql";

/**
 * Leaves a folder's index as a station's process leaves it when it ends: all of it in one file, and none beside. A copy, since in this
 * process SQLite may hold the file that was there.
 * @returns the file's path
 */
export function settleIndex(folder: string): string {
  const file = join(folder, ".index.db");
  const database = new Database(file);
  database.prepare("PRAGMA wal_checkpoint(TRUNCATE)").get();
  database.close();
  copyFileSync(file, `${file}.settled`);
  renameSync(`${file}.settled`, file);
  for (const suffix of ["-wal", "-shm"]) rmSync(`${file}${suffix}`, { force: true });
  return file;
}
