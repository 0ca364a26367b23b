import { readRecord, sha256Hex } from "./chain.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import type { AttemptSummary, IndexReader } from "./index-db.ts";
import { summaryOf } from "./indexed-attempt.ts";
import { type RecordContent, readRecordFile } from "./record-files.ts";
import { nameProblem, type RecordFile } from "./record-name.ts";
import { Traveller } from "./traveller.ts";

/** A record's file as found on disk: what it says, and whether it still is what was recorded. */
export interface ExaminedRecord {
  readonly file: RecordFile;
  readonly sha256: string;
  /** Null where nothing is wrong with the file. */
  readonly problem: string | null;
  /** Null where it can't be read at all. */
  readonly traveller: Traveller | null;
}

/** A neighbour that may be called as a witness: its name fits its content, and nothing is known against it. */
interface Witness {
  readonly path: string;
  readonly sha256: string;
  readonly previous: string | null;
  /** Whether the index has it just so. */
  readonly isIndexed: boolean;
}

/**
 * Holds single records of a folder against what else is known of them: their name, the index where there is one, and
 * the records after and before them. A neighbour is itself checked before it is believed.
 */
export class AttemptEvidence {
  readonly #folder: string;
  readonly #bySequence = new Map<number, RecordFile[]>();
  readonly #index: IndexReader | undefined;
  readonly #disk: Disk;

  constructor(
    folder: string,
    files: readonly RecordFile[],
    index: IndexReader | undefined,
    disk: Disk = REAL_DISK,
  ) {
    this.#folder = folder;
    this.#index = index;
    this.#disk = disk;
    for (const file of files) {
      const same = this.#bySequence.get(file.sequence);
      if (same) same.push(file);
      else this.#bySequence.set(file.sequence, [file]);
    }
  }

  /** @throws RecordError when a neighbour can't be read */
  async examine(content: RecordContent): Promise<ExaminedRecord> {
    const { file, bytes } = content;
    const record = readRecord(bytes);
    const parsed = record.ok ? Traveller.safeParse(record.content) : undefined;
    const traveller = parsed?.data ?? null;
    const sha256 = sha256Hex(bytes);
    const problem = record.ok
      ? (this.#againstIndex(file, sha256, traveller) ??
        (await this.#againstNeighbours(file, sha256, record.chain.previous)) ??
        (traveller === null ? "it is not a traveller that this version of the program knows" : null))
      : record.problem;
    return { file, sha256, traveller, problem };
  }

  #againstIndex(file: RecordFile, sha256: string, traveller: Traveller | null): string | null {
    const recorded = this.#index?.bySequence(file.sequence);
    const isSame = recorded?.sha256 === sha256;
    // The name is the recorded one: whatever else does not fit comes from a change of the content.
    if (recorded?.path === file.path && !isSame) {
      return "it was changed after it was recorded: its SHA-256 is not the recorded one";
    }
    const misnamed = traveller && nameProblem(summaryOf(traveller, sha256, file.path), file.path);
    if (misnamed && isSame) {
      return `it was renamed: it is attempt ${recorded.attempt} of ${recorded.serial} and was recorded as ${recorded.path}`;
    }
    if (misnamed) return misnamed;
    if (recorded === undefined || isSame) return null;
    return `record number ${file.sequence} was recorded as ${recorded.path}, with another SHA-256`;
  }

  async #againstNeighbours(
    file: RecordFile,
    sha256: string,
    previous: string | null,
  ): Promise<string | null> {
    const { sequence } = file;
    const isIndexed = this.#index?.bySequence(sequence) !== undefined;
    const next = await this.#witness(sequence + 1);
    // The index knows this one: only a neighbour that the index knows as well can say otherwise.
    if (next && next.previous !== sha256 && (next.isIndexed || !isIndexed)) {
      const isSure = next.isIndexed || (await this.#witness(sequence + 2))?.previous === next.sha256;
      return isSure
        ? `it was changed after it was recorded: its SHA-256 is not the one that ${next.path} carries`
        : `it was changed after it was recorded, or ${next.path} was, which carries another SHA-256 for it`;
    }
    if (isIndexed) return null;
    const before = this.#index?.bySequence(sequence - 1);
    if (before && before.sha256 !== previous) return `it does not carry the hash of ${before.path}`;
    if (next) return null;
    const twin = await this.#witness(sequence, file);
    return twin ? `it has the same number as ${twin.path}: one of the two is not a record` : null;
  }

  /**
   * @param except a file that is not asked
   * @returns the first record of this number whose name fits its content, and that neither the index nor the record
   *   after it speaks against
   */
  async #witness(sequence: number, except?: RecordFile): Promise<Witness | undefined> {
    for (const file of this.#bySequence.get(sequence) ?? []) {
      if (file === except) continue;
      const witness = await this.#readWitness(file);
      if (witness === undefined) continue;
      if (witness.isIndexed) return witness;
      const after = await Promise.all(
        (this.#bySequence.get(sequence + 1) ?? []).map((one) => this.#readWitness(one)),
      );
      if (after.every((one) => one === undefined || one.previous === witness.sha256)) return witness;
    }
    return undefined;
  }

  /** @returns undefined where the file is not a record of its name, or not the one the index has under its number */
  async #readWitness(file: RecordFile): Promise<Witness | undefined> {
    const { bytes } = await readRecordFile(this.#folder, file, this.#disk);
    const record = readRecord(bytes);
    const traveller = record.ok ? Traveller.safeParse(record.content) : undefined;
    if (!record.ok || !traveller?.success) return undefined;
    const summary: AttemptSummary = summaryOf(traveller.data, record.sha256, file.path);
    const recorded = this.#index?.bySequence(file.sequence);
    if (nameProblem(summary, file.path) !== null) return undefined;
    if (recorded !== undefined && recorded.sha256 !== record.sha256) return undefined;
    return {
      path: file.path,
      sha256: record.sha256,
      previous: record.chain.previous,
      isIndexed: recorded !== undefined,
    };
  }
}
