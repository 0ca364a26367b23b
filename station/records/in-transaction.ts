import type { IndexDatabase } from "./disk.ts";

/**
 * Does all of it, or nothing. The package's own way hides a full disk: SQLite has undone everything by itself then, and that there
 * is nothing left to undo becomes the error.
 * @throws as `work`, and SqliteError
 */
export function inTransaction(database: IndexDatabase, work: () => void): void {
  database.exec("BEGIN");
  try {
    work();
    database.exec("COMMIT");
  } catch (error) {
    try {
      database.exec("ROLLBACK");
    } catch {
      // Undone already.
    }
    throw error;
  }
}
