import { type UnitDifference, unitDifferences } from "./audit-units.ts";
import type { CheckedDatabase } from "./checked-database.ts";
import type { IndexedAttempt } from "./index-db.ts";
import { connectToRead } from "./index-file.ts";
import { indexedAttempt } from "./indexed-attempt.ts";
import type { Traveller } from "./traveller.ts";

type Row = Readonly<Record<string, unknown>>;

/** In a records folder. */
export const INDEX_FILE = ".index.db";
/** Rows read at once. */
const AT_ONCE = 500;
const DAMAGE_MOST = 100;

/** A folder's index, followed beside its files in the order of their numbers; never believed, only compared. */
export class AuditIndex {
  readonly #database: CheckedDatabase | undefined;
  readonly #rows = new Map<number, Row>();
  #readTo = 0;
  #isBroken = false;

  constructor(folder: string) {
    this.#database = connectToRead(folder);
  }

  /** Whether there is none that can be read. */
  get isMissing(): boolean {
    return this.#database === undefined || this.#isBroken;
  }

  /** @returns the SHA-256 it has for a number; undefined where it has none, or that number lies far back */
  sha256(sequence: number): string | undefined {
    const hash = this.#row(sequence)?.sha256;
    return typeof hash === "string" ? hash : undefined;
  }

  /** @returns what it says otherwise than the traveller, by the table's column; null where it has no such record */
  differences(traveller: Traveller, sha256: string, path: string): readonly string[] | null {
    const row = this.#row(traveller.chain.sequence);
    if (row === undefined) return null;
    const expected = rowOf(indexedAttempt(traveller, sha256, path));
    return Object.entries(expected).flatMap(([column, value]) => (row[column] === value ? [] : [column]));
  }

  /** @returns numbers and paths that it has after this number */
  after(sequence: number): readonly { readonly sequence: number; readonly path: string }[] {
    const rows = this.#ask(
      "SELECT sequence, path FROM attempts WHERE sequence > ? ORDER BY sequence LIMIT 100",
      sequence,
    );
    return rows.map((row) => ({ sequence: Number(row.sequence), path: String(row.path) }));
  }

  /** @returns the newest traveller's number; 0 for none */
  end(): number {
    return Number(this.#ask("SELECT max(sequence) AS last FROM attempts")[0]?.last ?? 0);
  }

  /** Numbers and paths of all travellers it has, in their order. */
  *all(): Generator<{ readonly sequence: number; readonly path: string }, void, void> {
    for (let page = this.after(0); page.length > 0; page = this.after(page.at(-1)?.sequence ?? 0))
      yield* page;
  }

  /** @returns sentences' ends on rows of its other tables that belong to no attempt, and on attempts that nobody counted */
  loose(): readonly string[] {
    const values = this.#ask(
      "SELECT sequence FROM stored_values WHERE sequence NOT IN (SELECT sequence FROM attempts) LIMIT 100",
    );
    const forms = this.#ask(
      "SELECT form FROM forms WHERE form NOT IN (SELECT form FROM stored_values) LIMIT 100",
    );
    const counts = this.#ask(
      "SELECT (SELECT attempts FROM counted) AS counted, (SELECT count(*) FROM attempts) AS had",
    );
    return [
      ...counts.flatMap(({ counted, had }) =>
        counted === had ? [] : [`it counts ${counted ?? "no"} travellers, and has ${had}`],
      ),
      ...values.map((row) => `it has stored values of number ${row.sequence}, and no such traveller`),
      ...forms.map((row) => `it has the form ${row.form}, which no traveller has`),
    ];
  }

  /** @returns sentences' ends on what SQLite finds wrong in the file: its own indices answer questions, and are compared with nothing else */
  damage(): readonly string[] {
    return this.#ask(`SELECT integrity_check FROM pragma_integrity_check(${DAMAGE_MOST})`).flatMap((row) =>
      row.integrity_check === "ok" ? [] : [`it is damaged: ${row.integrity_check}`],
    );
  }

  /** @returns the newest disposition's number; 0 for none */
  decidedEnd(): number {
    return Number(this.#ask("SELECT max(sequence) AS last FROM dispositions")[0]?.last ?? 0);
  }

  /** @returns the disposition of a number; undefined where it has none */
  decided(sequence: number): { readonly sha256: unknown; readonly text: unknown } | undefined {
    const [row] = this.#ask("SELECT sha256, text FROM dispositions WHERE sequence = ?", sequence);
    return row && { sha256: row.sha256, text: row.text };
  }

  /** @returns numbers of the dispositions that it has up to this one, whatever they are */
  decidedNumbers(last: number): readonly number[] {
    return this.#ask("SELECT sequence FROM dispositions WHERE sequence <= ?", last).map((row) =>
      Number(row.sequence),
    );
  }

  /** @returns units that a disposition names, by its table of them, up to this number, in the numbers' order */
  decidedUnits(last: number): readonly { readonly serial: unknown; readonly sequence: unknown }[] {
    return this.#ask(
      "SELECT serial, sequence FROM disposed_units WHERE sequence <= ? ORDER BY sequence",
      last,
    ).map(({ serial, sequence }) => ({ serial, sequence }));
  }

  /** @returns what its table of units says otherwise than its table of attempts, a part at a time */
  *unitDifferences(): Generator<readonly UnitDifference[], void, void> {
    if (this.#database === undefined || this.#isBroken) return;
    try {
      yield* unitDifferences(this.#database);
    } catch {
      this.#isBroken = true;
    }
  }

  close(): void {
    this.#database?.close();
  }

  #row(sequence: number): Row | undefined {
    if (sequence > this.#readTo) {
      // Two pages stay at hand: neighbours are compared across their border.
      for (const old of this.#rows.keys()) if (old < sequence - AT_ONCE) this.#rows.delete(old);
      for (const row of this.#ask(
        `SELECT a.*, v.form AS values_form, v.parts, hex(v.numbers) AS numbers, f.text AS form_text, f.model AS form_model
         FROM attempts a LEFT JOIN stored_values v ON v.sequence = a.sequence LEFT JOIN forms f ON f.form = v.form
         WHERE a.sequence >= ? AND a.sequence < ? ORDER BY a.sequence`,
        sequence,
        sequence + AT_ONCE,
      )) {
        this.#rows.set(Number(row.sequence), row);
      }
      this.#readTo = sequence + AT_ONCE - 1;
    }
    return this.#rows.get(sequence);
  }

  #ask(sql: string, ...keys: (string | number)[]): readonly Row[] {
    if (this.#database === undefined || this.#isBroken) return [];
    try {
      return this.#database.prepare(sql).all(...keys) as Row[];
    } catch {
      this.#isBroken = true;
      return [];
    }
  }
}

/** As `RecordIndex.add` writes it. */
function rowOf(it: IndexedAttempt): Row {
  return {
    sequence: it.sequence,
    sha256: it.sha256,
    path: it.path,
    id: it.id,
    record_kind: it.recordKind,
    serial: it.serial,
    model: it.model,
    attempt: it.attempt,
    attempt_kind: it.kind,
    draft: it.draft ? 1 : 0,
    verdict: it.verdict,
    started_at: it.started_at,
    ended_at: it.ended_at,
    ended: it.ended_at ?? it.started_at,
    duration_s: it.duration_s,
    codes: it.codes.join("\n"),
    causes: it.causes.join("\n"),
    suspect: it.suspect,
    measured: it.reference?.measured ?? null,
    certified: it.reference?.certified ?? null,
    tolerance: it.reference?.tolerance ?? null,
    unit: it.reference?.unit ?? null,
    form: it.stored.form,
    values_form: it.stored.form,
    form_text: it.stored.formText,
    form_model: it.model,
    parts: it.stored.parts,
    numbers: it.stored.numbers.toString("hex").toUpperCase(),
  };
}
