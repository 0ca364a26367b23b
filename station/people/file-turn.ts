import { setTimeout as sleep } from "node:timers/promises";
import Database from "libsql";
import { RecordError } from "../records/record-error.ts";

const WAIT_ms = 5000;
const LOOK_AGAIN_ms = 5;

/**
 * Does work on a file while nobody else does, in this process or another one: one after the other, nothing gets lost.
 * The turn is SQLite's exclusive lock on an empty database beside the file (as in records/folder-lock.ts): the kernel
 * ends it with the process, so that nothing stale can lock people out.
 * @throws RecordError FOLDER_IN_USE when the turn does not come within 5 s; what `work` throws
 */
export async function inTurn<T>(path: string, work: () => Promise<T>): Promise<T> {
  const lock = await ownTurn(path);
  try {
    return await work();
  } finally {
    lock.close();
  }
}

async function ownTurn(path: string): Promise<Database.Database> {
  for (let waited_ms = 0; ; waited_ms += LOOK_AGAIN_ms) {
    const lock = tryTurn(`${path}.lock`);
    if (lock) return lock;
    if (waited_ms >= WAIT_ms) {
      throw new RecordError(
        "FOLDER_IN_USE",
        path,
        `${path} is being changed by another program. Nothing was changed: try again.`,
      );
    }
    await sleep(LOOK_AGAIN_ms);
  }
}

function tryTurn(path: string): Database.Database | null {
  let database: Database.Database | undefined;
  try {
    database = new Database(path);
    database.exec("PRAGMA busy_timeout = 0; BEGIN EXCLUSIVE");
    return database;
  } catch (error) {
    database?.close();
    if (error instanceof Database.SqliteError && error.code === "SQLITE_BUSY") return null;
    throw error;
  }
}
