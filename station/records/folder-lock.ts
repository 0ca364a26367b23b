import { hostname } from "node:os";
import { join } from "node:path";
import Database from "libsql";
import { z } from "zod";
import { type Disk, type IndexDatabase, REAL_DISK } from "./disk.ts";
import { fileError, RecordError } from "./record-error.ts";

const LOCK_NAME = ".station-lock.db";
const HOLDER_NAME = ".station-lock.json";

const Holder = z.strictObject({ station: z.string(), pid: z.int(), host: z.string(), since: z.string() });

export interface LockOptions {
  readonly folder: string;
  /** For the refusal another station gets. */
  readonly station: string;
  readonly since_ms: number;
  readonly disk?: Disk;
}

/**
 * One station per records folder. The lock is SQLite's exclusive lock on an empty database: the kernel drops it when
 * the process ends, kill -9 included, so that no stale lock can keep a station from starting.
 *
 * Nothing else in this process may open the lock file: closing any handle of a file drops the process's POSIX locks
 * on it (fcntl(2), "Advisory record locking").
 */
export class FolderLock {
  readonly #disk: Disk;
  readonly #database: IndexDatabase;
  readonly #holderPath: string;

  private constructor(disk: Disk, database: IndexDatabase, holderPath: string) {
    this.#disk = disk;
    this.#database = database;
    this.#holderPath = holderPath;
  }

  /** @throws RecordError FOLDER_IN_USE naming who has it, or why the lock can't be had at all */
  static acquire({ folder, station, since_ms, disk = REAL_DISK }: LockOptions): FolderLock {
    const path = join(folder, LOCK_NAME);
    const holderPath = join(folder, HOLDER_NAME);
    let database: IndexDatabase | undefined;
    try {
      database = disk.database(path);
      database.exec("PRAGMA busy_timeout = 0; BEGIN EXCLUSIVE");
    } catch (error) {
      database?.close();
      if (error instanceof Database.SqliteError && error.code === "SQLITE_BUSY") {
        throw new RecordError("FOLDER_IN_USE", folder, refusal(disk, folder, holderPath), { cause: error });
      }
      throw fileError(error, path, `The records folder ${folder} can't be locked`);
    }
    const holder = { station, pid: process.pid, host: hostname(), since: new Date(since_ms).toISOString() };
    try {
      disk.writeNow(holderPath, JSON.stringify(holder));
    } catch {
      // Only the wording of a refusal depends on it.
    }
    return new FolderLock(disk, database, holderPath);
  }

  /** Gives the folder back, wherever the disk has gone meanwhile. */
  release(): void {
    try {
      this.#disk.removeNow(this.#holderPath);
    } catch {
      // The next holder writes its own over it.
    } finally {
      this.#database.close();
    }
  }
}

function refusal(disk: Disk, folder: string, holderPath: string): string {
  return `${holderText(disk, holderPath)} is using the records folder ${folder}: stop it, or choose another folder for this one.`;
}

function holderText(disk: Disk, holderPath: string): string {
  try {
    const { station, pid, host, since } = Holder.parse(JSON.parse(disk.readNow(holderPath)));
    return `Station "${station}" (process ${pid} on ${host}, since ${since})`;
  } catch {
    return "Another station";
  }
}
