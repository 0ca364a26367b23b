import { attemptOfRow, integer, rowOfAttempt, text, textOrNull } from "./attempt-row.ts";
import type { ChainHead } from "./chain.ts";
import { DecidedTable } from "./decided-table.ts";
import { type Disk, type IndexDatabase, REAL_DISK } from "./disk.ts";
import { counts } from "./doubts.ts";
import { type FirstTest, type FirstTestsRange, firstTestsIn } from "./first-tests.ts";
import { inTransaction } from "./in-transaction.ts";
import {
  complete,
  connect,
  connectAnew,
  connectToRead,
  connectUnfinished,
  removeUnfinished,
} from "./index-file.ts";
import { SpoiltIndex } from "./index-moment.ts";
import { insertRows } from "./insert-rows.ts";
import type { StoredValues } from "./stored-values.ts";
import { ADD_ALL_UNITS, ADD_TO_UNIT, unitOf } from "./unit-row.ts";

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
  /** Codes of the reasons for the verdict, in their order. */
  readonly codes: readonly string[];
  /** Of a fail: what it failed by, `failureNames`. */
  readonly causes: readonly string[];
  /** Of a fail: what it is suspected of before anything else. */
  readonly suspect: string | null;
  /** Of a reference piece; all in `unit`, `measured` null where nothing valid was. */
  readonly reference: ReferenceReading | null;
}

/** What the index is given of an attempt: what it knows, and the values that verdicts rest on. */
export interface IndexedAttempt extends AttemptSummary {
  /** Null where nobody saw the end. */
  readonly duration_s: number | null;
  readonly stored: StoredValues;
}

export interface ReferenceReading {
  readonly measured: number | null;
  readonly certified: number;
  readonly tolerance: number;
  readonly unit: string;
}

const MAPPED_bytes = 2 ** 30;
/** A check that is not followed by its hold stops the station: it is among the last records. */
export const LAST_RECORDS = 200;
/** Units are rarely tested more than twice. */
const LAST_AT_ONCE = 32;

/** An index that is only asked. */
export type IndexReader = Pick<
  RecordIndex,
  | "history"
  | "between"
  | "bySequence"
  | "checksBefore"
  | "failedChecks"
  | "end"
  | "countedEnd"
  | "headOf"
  | "decided"
  | "close"
>;

/**
 * An SQL table over the travellers of one records folder. The files are the truth; the index may be deleted at any
 * time, and whatever it can't do throws an SqliteError for its owner to make it anew.
 */
export class RecordIndex {
  readonly #folder: string;
  readonly #disk: Disk;
  #database: IndexDatabase;
  /** Its units are counted, and doubles found, when it is completed: one by one takes more than twice as long. */
  #isUnfinished = false;

  private constructor(folder: string, disk: Disk, database: IndexDatabase) {
    this.#folder = folder;
    this.#disk = disk;
    this.#database = database;
  }

  /** Opens the folder's index; one that is missing, unreadable or of another version is empty afterwards. */
  static open(folder: string, disk: Disk = REAL_DISK): RecordIndex {
    try {
      // Of a rebuild that was killed: whoever opens the folder's own has its lock.
      removeUnfinished(folder, disk);
    } catch {
      // It is in nobody's way.
    }
    try {
      const index = new RecordIndex(folder, disk, connect(folder, disk));
      if (index.end().records !== index.countedAttempts()) throw new Error("rows that nobody counted");
      return index;
    } catch {
      return new RecordIndex(folder, disk, connectAnew(folder, disk));
    }
  }

  /** An empty one beside the folder's own, to be filled and completed: `takeUnfinished` puts it in its place. @throws SqliteError */
  static beside(folder: string): RecordIndex {
    const index = new RecordIndex(folder, REAL_DISK, connectUnfinished(folder, REAL_DISK));
    index.#isUnfinished = true;
    return index;
  }

  /**
   * Opens the folder's index for readers that don't hold the folder's lock: nothing is made or changed, and a station
   * may be writing meanwhile.
   * @returns undefined where there is none that can be read
   */
  static openToRead(folder: string): IndexReader | undefined {
    const database = connectToRead(folder);
    // Counting a million rows takes a tenth of the time where pages need not be copied.
    database?.exec(`PRAGMA mmap_size = ${MAPPED_bytes}`);
    return database && RecordIndex.over(folder, database);
  }

  /** Over a folder's index that somebody has opened to read, as it sees it; closed by whoever opened it. */
  static over(folder: string, database: IndexDatabase): IndexReader {
    return new RecordIndex(folder, REAL_DISK, database);
  }

  /** Throws away what is there and starts empty. */
  startAnew(): void {
    this.#database.close();
    this.#database = connectAnew(this.#folder, this.#disk);
  }

  /**
   * Of one that was made beside the folder's own, once everything is in it.
   * @throws SqliteError SQLITE_CONSTRAINT... where an attempt is in it twice, `doubled`
   */
  complete(): void {
    this.#database.exec(ADD_ALL_UNITS);
    complete(this.#database);
    this.#isUnfinished = false;
  }

  /** @returns of an unfinished one, the first attempt whose id, or serial and number, an earlier one has; undefined for none */
  doubled(): AttemptSummary | undefined {
    return this.#one(`
      SELECT * FROM attempts WHERE sequence = (
        SELECT min(second) FROM (
          SELECT max(sequence) AS second FROM attempts GROUP BY id HAVING count(*) > 1
          UNION ALL SELECT max(sequence) FROM attempts GROUP BY serial, attempt HAVING count(*) > 1
        )
      )`);
  }

  /** What was decided about units. */
  get decided(): DecidedTable {
    return new DecidedTable(this.#database);
  }

  /** All of them, or none; each later in the chain than what is there. */
  add(attempts: readonly IndexedAttempt[]): void {
    const insertForm = this.#database.prepare("INSERT OR IGNORE INTO forms VALUES (?, ?, ?)");
    const insertUnit = this.#database.prepare(ADD_TO_UNIT);
    inTransaction(this.#database, () => {
      const forms = new Set<number>();
      for (const { model, stored } of attempts) {
        if (!forms.has(stored.form)) insertForm.run(stored.form, model, stored.formText);
        forms.add(stored.form);
      }
      insertRows(
        this.#database,
        "stored_values",
        attempts.map(({ sequence, stored: { form, parts, numbers } }) => [sequence, form, parts, numbers]),
      );
      insertRows(this.#database, "attempts", attempts.map(rowOfAttempt));
      if (this.#isUnfinished) return;
      for (const it of attempts) if (counts(it)) insertUnit.run(unitOf(it));
    });
  }

  /** @returns the number of records, and the last one's chain head, null when there is none */
  end(): { readonly records: number; readonly head: ChainHead | null } {
    // Two questions: asked as one, SQLite goes through every row for the greatest, too.
    const row = this.#database
      .prepare(
        "SELECT (SELECT count(*) FROM attempts) AS records, coalesce((SELECT max(sequence) FROM attempts), 0) AS sequence",
      )
      .get() as Readonly<Record<string, unknown>>;
    const [records, sequence] = [integer(row, "records"), integer(row, "sequence")];
    return { records, head: sequence === 0 ? null : (this.bySequence(sequence) ?? null) };
  }

  /**
   * The same in no time, for who only reads: the rows are counted as they come and go (`counted` in `index-file.ts`), and are held
   * against the count when a station starts, and by `index check`.
   */
  countedEnd(): { readonly records: number; readonly last: number } {
    const row = this.#database.prepare("SELECT coalesce(max(sequence), 0) AS last FROM attempts").get();
    return {
      records: this.countedAttempts(),
      last: integer(row as Readonly<Record<string, unknown>>, "last"),
    };
  }

  /** @returns how many attempts came, less those that went */
  countedAttempts(): number {
    const row = this.#database.prepare("SELECT attempts FROM counted").get();
    return integer(row as Readonly<Record<string, unknown>>, "attempts");
  }

  /**
   * Held against the unit's row: an attempt that the disk has made another serial's is not passed over, or the next one takes its number.
   * @returns every attempt of a serial, in order of the attempt number
   * @throws SpoiltIndex where they are not as many as the row says
   */
  history(serial: string): AttemptSummary[] {
    const attempts = this.#all("SELECT * FROM attempts WHERE serial = ? ORDER BY attempt", serial);
    const row = this.#database.prepare("SELECT tests FROM units WHERE serial = ?").get(serial);
    const tests = row === undefined ? 0 : integer(row as Readonly<Record<string, unknown>>, "tests");
    if (attempts.filter(counts).length !== tests)
      throw new SpoiltIndex(
        `The index has ${attempts.length} attempts of ${serial}, of which ${tests} should count.`,
      );
    return attempts;
  }

  /**
   * @param hashes SHA-256 of travellers
   * @returns the reference attempts among them that came before a record, in order
   */
  checksBefore(sequence: number, hashes: readonly string[]): AttemptSummary[] {
    // SQLite might take it for quicker to go through all that came before.
    return this.#all(
      "SELECT * FROM attempts INDEXED BY attempts_checks WHERE record_kind = 'reference' AND sha256 IN (SELECT value FROM json_each(?)) AND sequence < ? ORDER BY sequence",
      JSON.stringify(hashes),
      sequence,
    );
  }

  /** @returns failed checks of reference pieces among the last records, in order; drafts left out */
  failedChecks(): AttemptSummary[] {
    return this.#all(
      "SELECT * FROM attempts WHERE sequence > (SELECT max(sequence) FROM attempts) - ? AND record_kind = 'reference' AND draft = 0 AND verdict = 'fail' ORDER BY sequence",
      LAST_RECORDS,
    );
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
    return textOrNull(row as Readonly<Record<string, unknown>>, "paths")?.split("\n") ?? [];
  }

  /** @returns what ended, or began where nobody saw the end, at this time or later, in order of the sequence numbers */
  since(at_ms: number): AttemptSummary[] {
    return this.#all(
      "SELECT * FROM attempts WHERE ended >= ? ORDER BY sequence",
      new Date(at_ms).toISOString(),
    );
  }

  /** @returns attempts with greater sequence numbers, in their order */
  after(sequence: number): AttemptSummary[] {
    return this.#all("SELECT * FROM attempts WHERE sequence > ? ORDER BY sequence", sequence);
  }

  /** @returns attempts of a model's units, drafts too, with sequence numbers between these two, in their order */
  between(model: string, after: number, before: number): AttemptSummary[] {
    return this.#all(
      "SELECT * FROM attempts WHERE sequence > ? AND sequence < ? AND model = ? AND record_kind = 'unit' ORDER BY sequence",
      after,
      before,
      model,
    );
  }

  /**
   * @returns the newest attempt of a model that ended, void ones and references too, drafts left out; undefined for none. What
   * was cut off judged nothing, and what is known of it comes from a file that may have been altered since.
   */
  newestOf(model: string): AttemptSummary | undefined {
    return this.#one(
      "SELECT * FROM attempts WHERE model = ? AND draft = 0 AND ended_at IS NOT NULL ORDER BY sequence DESC LIMIT 1",
      model,
    );
  }

  /** @returns units' first valid tests, see `firstTestsIn` */
  firstTests(range: FirstTestsRange): FirstTest[] {
    return firstTestsIn(this.#database, range);
  }

  /** @returns every reference piece that was ever tested, the one tested first before the others */
  pieces(): string[] {
    return this.#database
      .prepare(
        "SELECT serial FROM attempts WHERE record_kind = 'reference' GROUP BY serial ORDER BY min(sequence)",
      )
      .all()
      .map((row) => text(row as Readonly<Record<string, unknown>>, "serial"));
  }

  /** @returns the newest valid attempt of each of the units that had one last, newest first; drafts and references left out */
  lastUnits(count: number): AttemptSummary[] {
    const newest = new Map<string, AttemptSummary>();
    const ask = this.#database.prepare(
      "SELECT * FROM attempts WHERE record_kind = 'unit' AND draft = 0 AND verdict <> 'void' AND sequence < ? ORDER BY sequence DESC LIMIT ?",
    );
    for (let before = Number.MAX_SAFE_INTEGER; newest.size < count; ) {
      const rows = ask.all(before, LAST_AT_ONCE).map((row) => attemptOfRow(row));
      for (const row of rows) {
        if (newest.size < count && !newest.has(row.serial)) newest.set(row.serial, row);
        before = row.sequence;
      }
      if (rows.length < LAST_AT_ONCE) break;
    }
    return [...newest.values()];
  }

  /** @returns the newest record of one of the folder's logs that the index was told of; of dispositions it has a table */
  headOf(log: string): ChainHead | null {
    const row = this.#database.prepare("SELECT sequence, sha256 FROM heads WHERE log = ?").get(log);
    return row === undefined ? null : headOfRow(row);
  }

  keepHead(log: string, { sequence, sha256 }: ChainHead): void {
    this.#database.prepare("INSERT OR REPLACE INTO heads VALUES (?, ?, ?)").run(log, sequence, sha256);
  }

  byId(id: string): AttemptSummary | undefined {
    return this.#one("SELECT * FROM attempts WHERE id = ?", id);
  }

  close(): void {
    this.#database.close();
  }

  #all(sql: string, ...keys: readonly (string | number)[]): AttemptSummary[] {
    return this.#database
      .prepare(sql)
      .all(...keys)
      .map((row) => attemptOfRow(row));
  }

  #one(sql: string, ...keys: readonly (string | number)[]): AttemptSummary | undefined {
    const row = this.#database.prepare(sql).get(...keys);
    return row === undefined ? undefined : attemptOfRow(row);
  }
}

/**
 * For whoever does not hold the folder's lock.
 * @returns the newest disposition that the station told its index of; null where nobody knows
 */
export function lastDecidedInIndex(folder: string): ChainHead | null {
  const index = RecordIndex.openToRead(folder);
  try {
    return index?.decided.end() ?? null;
  } catch {
    return null;
  } finally {
    index?.close();
  }
}

function headOfRow(row: unknown): ChainHead {
  const it = row as Readonly<Record<string, unknown>>;
  return { sequence: integer(it, "sequence"), sha256: text(it, "sha256") };
}
