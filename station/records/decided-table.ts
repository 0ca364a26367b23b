import { integer, text, textOrNull } from "./attempt-row.ts";
import type { ChainHead } from "./chain.ts";
import type { LogEntry } from "./chained-log.ts";
import type { IndexDatabase } from "./disk.ts";
import type { Disposition } from "./disposition.ts";
import { inTransaction } from "./in-transaction.ts";
import { SpoiltIndex } from "./index-moment.ts";

type Row = Readonly<Record<string, unknown>>;
type Decided = LogEntry<Disposition>;

/**
 * The index's tables of dispositions: each with its hash and text, and which units each names. They are the log's first so many
 * records, without a gap: what commands beside the station record comes in when the station looks.
 */
export class DecidedTable {
  readonly #database: IndexDatabase;

  constructor(database: IndexDatabase) {
    this.#database = database;
  }

  /** @returns the last one's place; null for none */
  end(): ChainHead | null {
    const row = this.#database
      .prepare("SELECT sequence, sha256 FROM dispositions ORDER BY sequence DESC LIMIT 1")
      .get() as Row | undefined;
    return row === undefined ? null : headOf(row);
  }

  /**
   * Asked in the table and in its index, which is a second copy: a disk that has changed a serial in one of them hides no hold.
   * @returns those naming a unit, in the order of recording, each with the hash of the one after it; null where there is none
   * @throws SpoiltIndex where the two differ
   */
  naming(serial: string): (ChainHead & { readonly next: string | null })[] {
    const rows = this.#database
      .prepare(
        `SELECT u.sequence, d.sha256, next.sha256 AS next FROM disposed_units u
         LEFT JOIN dispositions d ON d.sequence = u.sequence
         LEFT JOIN dispositions next ON next.sequence = u.sequence + 1 WHERE u.serial = ? ORDER BY u.sequence`,
      )
      .all(serial) as Row[];
    const again = this.#database
      .prepare(
        "SELECT sequence FROM disposed_units INDEXED BY disposed_again WHERE serial = ? COLLATE NOCASE AND serial = ? ORDER BY sequence",
      )
      .all(serial, serial) as Row[];
    if (rows.length !== again.length || rows.some(({ sequence }, at) => sequence !== again[at]?.sequence))
      throw new SpoiltIndex(`The index has ${rows.length} and ${again.length} decisions about ${serial}.`);
    return rows.map((row) => ({ ...headOf(row), next: textOrNull(row, "next") }));
  }

  /**
   * Adds what is not there yet: all of it, or nothing.
   * @param entries read and checked, in their order
   * @returns false where they do not follow what is there: it has to be put right from the whole log
   * @throws SqliteError
   */
  add(entries: readonly Decided[]): boolean {
    const end = this.end();
    const lacked = entries.filter(({ sequence }) => sequence > (end?.sequence ?? 0));
    const [first] = lacked;
    if (!first) return true;
    const { chain } = first.content;
    if (chain.sequence !== (end?.sequence ?? 0) + 1 || chain.previous !== (end?.sha256 ?? null)) return false;
    inTransaction(this.#database, () => this.#insert(lacked));
    return true;
  }

  /**
   * Makes the tables what the log says, whatever they were.
   * @param entries the whole log, read and checked
   * @throws SqliteError
   */
  putRight(entries: readonly Decided[]): void {
    if (this.#isBeginOf(entries)) {
      this.add(entries);
      return;
    }
    inTransaction(this.#database, () => {
      for (const table of ["dispositions", "disposed_units"])
        this.#database.prepare(`DELETE FROM ${table}`).run();
      this.#insert(entries);
    });
  }

  #insert(entries: readonly Decided[]): void {
    const insert = this.#database.prepare("INSERT INTO dispositions VALUES (?, ?, ?)");
    const insertUnit = this.#database.prepare("INSERT INTO disposed_units VALUES (?, ?)");
    for (const { sequence, sha256, text, content } of entries) {
      insert.run([sequence, sha256, text]);
      for (const serial of unitsOf(content)) insertUnit.run([serial, sequence]);
    }
  }

  #isBeginOf(entries: readonly Decided[]): boolean {
    const rows = this.#all();
    const isBegin = rows.every((row, at) => {
      const entry = entries[at];
      return entry?.sequence === row.sequence && entry.sha256 === row.sha256 && entry.text === row.text;
    });
    if (!isBegin) return false;
    const named = this.#database.prepare("SELECT serial, sequence FROM disposed_units").all() as Row[];
    const expected = new Set(
      entries
        .slice(0, rows.length)
        .flatMap(({ sequence, content }) => [...unitsOf(content)].map((serial) => `${sequence} ${serial}`)),
    );
    return (
      named.length === expected.size &&
      named.every((row) => expected.has(`${integer(row, "sequence")} ${text(row, "serial")}`))
    );
  }

  #all(): (ChainHead & { readonly text: string })[] {
    const rows = this.#database
      .prepare("SELECT sequence, sha256, text FROM dispositions ORDER BY sequence")
      .all() as Row[];
    return rows.map((row) => ({ ...headOf(row), text: text(row, "text") }));
  }
}

/** @throws TypeError for what no station wrote */
function headOf(row: Row): ChainHead {
  return { sequence: integer(row, "sequence"), sha256: text(row, "sha256") };
}

/** @returns serials of the units that it names, each once */
export function unitsOf({ units }: Pick<Disposition, "units">): ReadonlySet<string> {
  return new Set(units.map(({ serial }) => serial));
}
