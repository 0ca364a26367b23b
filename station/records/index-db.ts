import { existsSync, rmSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import Database from "libsql";
import { z } from "zod";
import type { ChainHead } from "./chain.ts";
import type { Traveller } from "./traveller.ts";

/** What the index knows of an attempt. */
export interface AttemptSummary {
  readonly sequence: number;
  readonly sha256: string;
  /** Relative to the records folder. */
  readonly path: string;
  readonly id: string;
  readonly recordKind: "unit" | "reference";
  readonly serial: string;
  readonly model: string;
  readonly attempt: number;
  readonly kind: "first" | "retest" | "after_rework";
  readonly draft: boolean;
  readonly verdict: "pass" | "fail" | "void";
  readonly started_at: string;
  readonly ended_at: string | null;
}

const INDEX_NAME = ".index.db";
/** Raised with every change of the table: an index of another version is made anew from the files. */
const INDEX_VERSION = 1;

const Row = z
  .object({
    sequence: z.int(),
    sha256: z.string(),
    path: z.string(),
    id: z.string(),
    record_kind: z.enum(["unit", "reference"]),
    serial: z.string(),
    model: z.string(),
    attempt: z.int(),
    attempt_kind: z.enum(["first", "retest", "after_rework"]),
    draft: z.int(),
    verdict: z.enum(["pass", "fail", "void"]),
    started_at: z.string(),
    ended_at: z.string().nullable(),
  })
  .transform(
    ({ record_kind, attempt_kind, draft, ...row }): AttemptSummary => ({
      ...row,
      recordKind: record_kind,
      kind: attempt_kind,
      draft: draft !== 0,
    }),
  );

/** An index that is only asked. */
export type IndexReader = Pick<RecordIndex, "history" | "bySequence" | "end" | "close">;

const End = z.object({ records: z.int(), sequence: z.int().nullable() });
const Paths = z.object({ paths: z.string().nullable() });
const Version = z.object({ user_version: z.int() });

/**
 * An SQL table over the travellers of one records folder. The files are the truth; the index may be deleted at any
 * time, and whatever it can't do throws an SqliteError for its owner to make it anew.
 */
export class RecordIndex {
  readonly #folder: string;
  #database: Database.Database;

  private constructor(folder: string, database: Database.Database) {
    this.#folder = folder;
    this.#database = database;
  }

  /** Opens the folder's index; one that is missing, unreadable or of another version is empty afterwards. */
  static open(folder: string): RecordIndex {
    try {
      const index = new RecordIndex(folder, connect(folder));
      index.end();
      return index;
    } catch {
      return new RecordIndex(folder, connectAnew(folder));
    }
  }

  /**
   * Opens the folder's index for readers that don't hold the folder's lock: nothing is made or changed, and a station
   * may be writing meanwhile.
   * @returns undefined where there is none that can be read
   */
  static openToRead(folder: string): IndexReader | undefined {
    const file = join(folder, INDEX_NAME);
    // SQLite would make the two files beside a WAL database even to read it. Without them nobody is writing, and
    // all that was written is in the file itself: "immutable" looks at nothing else (sqlite.org/uri.html).
    const isInUse = existsSync(`${file}-wal`) && existsSync(`${file}-shm`);
    let database: Database.Database | undefined;
    try {
      // The package has no read-only option that works; SQLite's own address form has.
      database = new Database(`${pathToFileURL(file).href}?mode=ro${isInUse ? "" : "&immutable=1"}`);
      if (versionOf(database) !== INDEX_VERSION) throw new Error("another version");
      return new RecordIndex(folder, database);
    } catch {
      database?.close();
      return undefined;
    }
  }

  /** Throws away what is there and starts empty. */
  startAnew(): void {
    this.#database.close();
    this.#database = connectAnew(this.#folder);
  }

  /** All of them, or none. */
  add(attempts: readonly AttemptSummary[]): void {
    const insert = this.#database.prepare(
      "INSERT INTO attempts VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    );
    this.#database.transaction(() => {
      for (const it of attempts) {
        insert.run(
          it.sequence,
          it.sha256,
          it.path,
          it.id,
          it.recordKind,
          it.serial,
          it.model,
          it.attempt,
          it.kind,
          it.draft ? 1 : 0,
          it.verdict,
          it.started_at,
          it.ended_at,
        );
      }
    })();
  }

  /** @returns the number of records, and the last one's chain head, null when there is none */
  end(): { readonly records: number; readonly head: ChainHead | null } {
    const row = this.#database
      .prepare("SELECT count(*) AS records, max(sequence) AS sequence FROM attempts")
      .get();
    const { records, sequence } = End.parse(row);
    return { records, head: sequence === null ? null : (this.bySequence(sequence) ?? null) };
  }

  /** @returns every attempt of a serial, in order of the attempt number */
  history(serial: string): AttemptSummary[] {
    return this.#database
      .prepare("SELECT * FROM attempts WHERE serial = ? ORDER BY attempt")
      .all(serial)
      .map((row) => Row.parse(row));
  }

  bySequence(sequence: number): AttemptSummary | undefined {
    return this.#one("SELECT * FROM attempts WHERE sequence = ?", sequence);
  }

  /** @returns every record's path, in order of the sequence numbers */
  paths(): string[] {
    // As one text: rows one by one take longer than reading the folder.
    const row = this.#database
      .prepare("SELECT group_concat(path, char(10) ORDER BY sequence) AS paths FROM attempts")
      .get();
    return Paths.parse(row).paths?.split("\n") ?? [];
  }

  byId(id: string): AttemptSummary | undefined {
    return this.#one("SELECT * FROM attempts WHERE id = ?", id);
  }

  close(): void {
    this.#database.close();
  }

  #one(sql: string, key: string | number): AttemptSummary | undefined {
    const row = this.#database.prepare(sql).get(key);
    return row === undefined ? undefined : Row.parse(row);
  }
}

/** @returns what the index keeps of a traveller in the file `path` */
export function summaryOf(traveller: Traveller, sha256: string, path: string): AttemptSummary {
  return {
    sequence: traveller.chain.sequence,
    sha256,
    path,
    id: traveller.id,
    recordKind: traveller.kind,
    serial: traveller.serial,
    model: traveller.model,
    attempt: traveller.attempt.number,
    kind: traveller.attempt.kind,
    draft: traveller.draft,
    verdict: traveller.verdict,
    started_at: traveller.started_at,
    ended_at: traveller.ended_at,
  };
}

function connect(folder: string): Database.Database {
  const database = new Database(join(folder, INDEX_NAME));
  try {
    // NORMAL in WAL mode keeps the file sound through a power cut; a lost last row is added again at the next start.
    database.exec("PRAGMA busy_timeout = 2000; PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL");
    const version = versionOf(database);
    if (version === INDEX_VERSION) return database;
    if (version !== 0) throw new Error(`index version ${version}`);
    database.exec(`
      CREATE TABLE attempts (
        sequence INTEGER PRIMARY KEY, sha256 TEXT NOT NULL, path TEXT NOT NULL, id TEXT NOT NULL UNIQUE,
        record_kind TEXT NOT NULL, serial TEXT NOT NULL, model TEXT NOT NULL, attempt INTEGER NOT NULL,
        attempt_kind TEXT NOT NULL, draft INTEGER NOT NULL, verdict TEXT NOT NULL,
        started_at TEXT NOT NULL, ended_at TEXT,
        UNIQUE (serial, attempt)
      );
      PRAGMA user_version = ${INDEX_VERSION};`);
    return database;
  } catch (error) {
    database.close();
    throw error;
  }
}

function versionOf(database: Database.Database): number {
  return Version.parse(database.prepare("PRAGMA user_version").get()).user_version;
}

function connectAnew(folder: string): Database.Database {
  for (const suffix of ["", "-wal", "-shm"]) rmSync(join(folder, `${INDEX_NAME}${suffix}`), { force: true });
  return connect(folder);
}
