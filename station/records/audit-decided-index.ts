import type { AuditIndex } from "./audit-index.ts";
import { unitsOf } from "./decided-table.ts";
import type { Disposition } from "./disposition.ts";
import { DISPOSITIONS, logFile } from "./numbered-log.ts";

/** What the index says otherwise than a folder's dispositions. */
export interface DecidedDifference {
  readonly sequence: number;
  readonly path: string;
  /** A sentence's end. */
  readonly what: string;
}

/**
 * Holds the index's tables of dispositions against their files, which are given one after the other. The table's end is taken before any
 * file is looked at: up to it a file was there before its row, and what comes later is not in the table yet.
 */
export class DecidedComparison {
  readonly #index: AuditIndex;
  readonly #end: number;
  readonly #differences: DecidedDifference[] = [];
  readonly #seen = new Set<number>();
  /** By number, as the index has them, and not borne out yet. */
  readonly #units = new Map<number, Set<string>>();

  constructor(index: AuditIndex) {
    this.#index = index;
    this.#end = index.decidedEnd();
    for (const { serial, sequence } of index.decidedUnits(this.#end)) {
      const named = this.#units.get(Number(sequence)) ?? new Set();
      this.#units.set(Number(sequence), named.add(String(serial)));
    }
  }

  /** @param text the file, to the byte */
  compare(content: Disposition, sha256: string, text: string): void {
    const { sequence } = content.chain;
    if (sequence > this.#end || this.#index.isMissing) return;
    this.#seen.add(sequence);
    const row = this.#index.decided(sequence);
    const named = this.#units.get(sequence) ?? new Set();
    this.#units.delete(sequence);
    if (row === undefined) {
      this.#tell(sequence, "the index does not have it, and later ones");
      return;
    }
    const units = unitsOf(content);
    const isSame = units.size === named.size && [...units].every((serial) => named.has(serial));
    const columns = [
      ...(row.sha256 === sha256 ? [] : ["sha256"]),
      ...(row.text === text ? [] : ["text"]),
      ...(isSame ? [] : ["units"]),
    ];
    if (columns.length > 0) this.#tell(sequence, `the index has it otherwise: ${columns.join(", ")}`);
  }

  /** Once all files were given. @returns all that differs, also what no file bears out */
  differences(): readonly DecidedDifference[] {
    const left = new Set([...this.#index.decidedNumbers(this.#end), ...this.#units.keys()]);
    for (const sequence of [...left].filter((it) => !this.#seen.has(it)).sort((a, b) => a - b))
      this.#tell(sequence, "the index has it, and it is not there as it was recorded");
    return this.#differences;
  }

  #tell(sequence: number, what: string): void {
    this.#differences.push({ sequence, path: logFile(DISPOSITIONS, sequence), what });
  }
}
