import Database from "libsql";
import type { RandomStream } from "../../sim/random.ts";
import type { IndexDatabase, SqlValue } from "../../station/records/disk.ts";

/** A transaction: statements with what they were given, or a script. */
type Written = readonly { readonly sql: string; readonly values: readonly SqlValue[] }[];

/** Opens an SqliteError, or lets a statement pass. */
export type Refuses = (what: "read" | "write") => Error | null;

/**
 * An SQLite file on the modelled disk: a real SQLite database in memory, and what was written to it, so that the newest
 * transactions can be taken back. That is what WAL mode with synchronous=NORMAL loses in a power cut: whole transactions from
 * the end, never a sound file (sqlite.org/pragma.html#pragma_synchronous).
 */
export class ModelledDatabase {
  #database = new Database(":memory:");
  #written: Written[] = [];
  #lockedBy: object | null = null;

  /** One program's way to it. @param refuses what the disk does to it now */
  open(program: object, refuses: Refuses): IndexDatabase {
    let underWay: { sql: string; values: SqlValue[] }[] | null = null;
    const guard = (what: "read" | "write") => {
      const refusal = refuses(what);
      if (refusal) throw refusal;
    };
    return {
      exec: (sql) => {
        guard("read");
        if (sql.includes("BEGIN EXCLUSIVE")) return this.#lock(program);
        const isScript = sql.includes("CREATE TABLE");
        if (isScript) guard("write");
        // No journal in memory: what it is for is modelled here.
        if (!sql.includes("journal_mode")) this.#database.exec(sql);
        if (sql === "BEGIN") underWay = [];
        if (sql === "COMMIT" && underWay) this.#written.push(underWay);
        if (sql === "COMMIT" || sql === "ROLLBACK") underWay = null;
        if (isScript) this.#written.push([{ sql, values: [] }]);
      },
      prepare: (sql) => {
        guard("read");
        const statement = this.#database.prepare(sql);
        return {
          get: (...keys) => {
            guard("read");
            return statement.get(...keys);
          },
          all: (...keys) => {
            guard("read");
            return statement.all(...keys);
          },
          run: (...given) => {
            const values = given.flat() as SqlValue[];
            guard("write");
            const done = statement.run(...values);
            if (underWay) underWay.push({ sql, values });
            else this.#written.push([{ sql, values }]);
            return done;
          },
        };
      },
      close: () => {
        if (this.#lockedBy === program) this.#lockedBy = null;
      },
    };
  }

  /** The program has ended: the kernel drops its lock. */
  unlock(program: object): void {
    if (this.#lockedBy === program) this.#lockedBy = null;
  }

  /** @returns false where the file itself is lost */
  losePower(random: RandomStream): boolean {
    this.#lockedBy = null;
    if (random.chance(0.1)) return false;
    const kept = random.chance(0.4)
      ? this.#written.length
      : Math.floor(random.between(0, this.#written.length + 1));
    if (kept === this.#written.length) return true;
    this.#database.close();
    this.#database = new Database(":memory:");
    this.#written = this.#written.slice(0, kept);
    for (const transaction of this.#written) {
      for (const { sql, values } of transaction) {
        if (values.length === 0) this.#database.exec(sql);
        else this.#database.prepare(sql).run(...values);
      }
    }
    return true;
  }

  rows(sql: string): unknown[] {
    return this.#database.prepare(sql).all();
  }

  discard(): void {
    this.#database.close();
  }

  #lock(program: object): void {
    if (this.#lockedBy !== null) throw new Database.SqliteError("database is locked", "SQLITE_BUSY", 5);
    this.#lockedBy = program;
  }
}
