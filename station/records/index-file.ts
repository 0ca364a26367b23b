import { existsSync, statSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { CheckedDatabase } from "./checked-database.ts";
import type { Disk, IndexDatabase } from "./disk.ts";
import { syncFolder } from "./durable-file.ts";
import { indexPath } from "./index-name.ts";

/** An index that is being made beside the other; of one whose making was cut off, the next is made anew. */
const UNFINISHED_NAME = ".index.unfinished.db";
/** Rows are only ever put at the end, and sorted once: what does not find room here goes into a file that has no name any more. */
const UNFINISHED_CACHE_KiB = 8192;
/** Raised with every change of the tables and of what is in them: an index of another version is made anew from the files. */
const INDEX_VERSION = 9;

/**
 * Opens a folder's index file for its station, which makes it where it is not there.
 * @throws SqliteError, or an Error for an index of another version
 */
export function connect(folder: string, disk: Disk): IndexDatabase {
  const database = disk.database(indexPath(folder));
  try {
    // NORMAL in WAL mode keeps the file sound through a power cut; a lost last row is added again at the next start.
    database.exec("PRAGMA busy_timeout = 2000; PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL");
    const version = versionOf(database);
    if (version === INDEX_VERSION) return database;
    if (version !== 0) throw new Error(`index version ${version}`);
    create(database);
    complete(database);
    return database;
  } catch (error) {
    database.close();
    throw error;
  }
}

/** @throws SqliteError */
function create(database: IndexDatabase): void {
  database.exec(`
    CREATE TABLE attempts (
      sequence INTEGER PRIMARY KEY, sha256 TEXT NOT NULL, path TEXT NOT NULL, id TEXT NOT NULL,
      record_kind TEXT NOT NULL, serial TEXT NOT NULL, model TEXT NOT NULL, attempt INTEGER NOT NULL,
      attempt_kind TEXT NOT NULL, draft INTEGER NOT NULL, verdict TEXT NOT NULL,
      started_at TEXT NOT NULL, ended_at TEXT, ended TEXT NOT NULL, duration_s REAL, form INTEGER NOT NULL,
      codes TEXT NOT NULL, causes TEXT NOT NULL, suspect TEXT,
      measured REAL, certified REAL, tolerance REAL, unit TEXT,
      cycle_s REAL AS (iif(record_kind = 'unit' AND draft = 0 AND verdict <> 'void', duration_s, NULL)) VIRTUAL
    );
    CREATE TABLE dispositions (sequence INTEGER PRIMARY KEY, sha256 TEXT NOT NULL, text TEXT NOT NULL);
    CREATE TABLE disposed_units (
      serial TEXT NOT NULL, sequence INTEGER NOT NULL, PRIMARY KEY (serial, sequence)
    ) WITHOUT ROWID;
    CREATE TABLE heads (log TEXT PRIMARY KEY, sequence INTEGER NOT NULL, sha256 TEXT NOT NULL);
    CREATE TABLE forms (form INTEGER PRIMARY KEY, model TEXT NOT NULL, text TEXT NOT NULL);
    CREATE TABLE stored_values (
      sequence INTEGER PRIMARY KEY, form INTEGER NOT NULL, parts TEXT NOT NULL, numbers BLOB NOT NULL
    );
    CREATE TABLE units (
      serial TEXT PRIMARY KEY, first_sequence INTEGER, first_ended TEXT, first_form INTEGER, first_parts TEXT,
      last_sequence INTEGER, last_form INTEGER,
      tests INTEGER NOT NULL, voids INTEGER NOT NULL, retests INTEGER NOT NULL, reworks INTEGER NOT NULL
    ) WITHOUT ROWID;
    CREATE TABLE counted (attempts INTEGER NOT NULL);`);
}

/** Last: made over full tables, they take a part of the time that each row would. An index is of no version before. */
export function complete(database: IndexDatabase): void {
  database.exec(`
    CREATE UNIQUE INDEX attempts_id ON attempts (id);
    CREATE UNIQUE INDEX attempts_unit ON attempts (serial, attempt);
    CREATE INDEX attempts_ended ON attempts (ended, form, cycle_s);
    CREATE INDEX attempts_apart ON attempts (ended, form, serial, attempt, verdict, record_kind, draft)
      WHERE attempt > 1 OR verdict = 'void' OR record_kind = 'reference' OR draft = 1;
    CREATE INDEX attempts_failed ON attempts (ended, form, suspect, attempt, serial, verdict, record_kind, draft)
      WHERE verdict = 'fail' AND record_kind = 'unit' AND draft = 0;
    CREATE INDEX attempts_checks ON attempts (sha256) WHERE record_kind = 'reference';
    CREATE INDEX attempts_checked ON attempts (ended) WHERE record_kind = 'reference' AND draft = 0;
    CREATE INDEX units_first ON units (first_ended, first_form, last_form, tests, voids, retests, reworks);
    CREATE INDEX disposed_again ON disposed_units (serial COLLATE NOCASE);
    INSERT INTO counted SELECT count(*) FROM attempts;
    CREATE TRIGGER attempts_added AFTER INSERT ON attempts BEGIN UPDATE counted SET attempts = attempts + 1; END;
    CREATE TRIGGER attempts_gone AFTER DELETE ON attempts BEGIN UPDATE counted SET attempts = attempts - 1; END;
    PRAGMA user_version = ${INDEX_VERSION};`);
}

function versionOf(database: IndexDatabase): number {
  const row = database.prepare("PRAGMA user_version").get() as { readonly user_version: number };
  return row.user_version;
}

/**
 * An empty index beside the folder's own, to be filled, then to be given to `complete`, and which nobody asks before
 * `takeUnfinished`. Until then a power cut may spoil it.
 * @throws SqliteError
 */
export function connectUnfinished(folder: string, disk: Disk): IndexDatabase {
  removeUnfinished(folder, disk);
  const database = disk.database(join(folder, UNFINISHED_NAME));
  try {
    database.exec(
      `PRAGMA locking_mode = EXCLUSIVE; PRAGMA journal_mode = MEMORY; PRAGMA synchronous = OFF; PRAGMA cache_size = ${-UNFINISHED_CACHE_KiB}`,
    );
    create(database);
    return database;
  } catch (error) {
    database.close();
    throw error;
  }
}

/**
 * Puts the finished index in the place of the folder's own, in one step: whoever is killed here leaves one or the other, and
 * whoever asks the old one goes on doing so. Only for who has the folder's lock, and has closed the new one.
 * @throws the system's errors
 */
export async function takeUnfinished(folder: string, disk: Disk): Promise<void> {
  const [own, made] = [indexPath(folder), join(folder, UNFINISHED_NAME)];
  const file = await disk.open(made, "r");
  try {
    await file.sync();
  } finally {
    await file.close();
  }
  // What is in the journal beside the old one would be taken for the new one's.
  if (!settleJournal(own, disk)) disk.removeNow(own);
  for (const suffix of ["-wal", "-shm"]) disk.removeNow(`${own}${suffix}`);
  await disk.rename(made, own);
  await syncFolder(folder, disk);
}

export function removeUnfinished(folder: string, disk: Disk): void {
  for (const suffix of ["", "-journal"]) disk.removeNow(join(folder, `${UNFINISHED_NAME}${suffix}`));
}

/** @returns whether all that was written to the index is in its own file now */
function settleJournal(file: string, disk: Disk): boolean {
  if (!existsSync(file)) return false;
  try {
    const database = disk.database(file);
    try {
      const row = database.prepare("PRAGMA wal_checkpoint(TRUNCATE)").get() as { readonly busy: number };
      return row.busy === 0;
    } finally {
      database.close();
    }
  } catch {
    return false;
  }
}

/** Removes whatever index there is. */
export function connectAnew(folder: string, disk: Disk): IndexDatabase {
  for (const suffix of ["", "-wal", "-shm"]) disk.removeNow(`${indexPath(folder)}${suffix}`);
  return connect(folder, disk);
}

/**
 * For readers that don't hold the folder's lock: nothing is made or changed, and a station may be writing meanwhile.
 * @returns undefined where there is no index that can be read
 */
export function connectToRead(folder: string): CheckedDatabase | undefined {
  const file = indexPath(folder);
  // SQLite would make the two files beside a WAL database even to read it. Without them nobody is writing, and
  // all that was written is in the file itself: "immutable" looks at nothing else (sqlite.org/uri.html).
  const isInUse = existsSync(`${file}-wal`) && existsSync(`${file}-shm`);
  let database: CheckedDatabase | undefined;
  try {
    // The package has no read-only option that works; SQLite's own address form has.
    database = new CheckedDatabase(`${pathToFileURL(file).href}?mode=ro${isInUse ? "" : "&immutable=1"}`);
    if (versionOf(database) !== INDEX_VERSION) throw new Error("another version");
    return database;
  } catch {
    database?.close();
    return undefined;
  }
}

/** A station that starts does so once; then the index is read as one in use is. */
const ASKED_AGAIN_MOST = 3;

/**
 * Asks a folder's index what takes a while. An index that nobody uses is read as a file that does not change; where a station has
 * started meanwhile, or the index was made anew, the answer may be of two halves, and is asked for again.
 * @throws as `ask`
 */
export async function askedUndisturbed<T>(folder: string, ask: () => Promise<T>): Promise<T> {
  for (let left = ASKED_AGAIN_MOST; ; left--) {
    const before = markOf(folder);
    const isDisturbed = () => left > 0 && before !== IN_USE && markOf(folder) !== before;
    try {
      const answer = await ask();
      if (!isDisturbed()) return answer;
    } catch (error) {
      if (!isDisturbed()) throw error;
    }
  }
}

const IN_USE = "in use";

/** Changes with the index file while nobody uses it. Where nobody can look there is none: whoever reads the records says why. */
function markOf(folder: string): string {
  const file = indexPath(folder);
  if (existsSync(`${file}-wal`)) return IN_USE;
  try {
    const { ino, size, mtimeMs } = statSync(file);
    return `${ino} ${size} ${mtimeMs}`;
  } catch {
    return "none";
  }
}
