import { join } from "node:path";
import { type ChainHead, linkProblem, readRecord } from "./chain.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import type { IndexedAttempt } from "./index-db.ts";
import { indexedAttempt } from "./indexed-attempt.ts";
import { canReadSealed, readSealed } from "./read-sealed.ts";
import { notAsRecorded, type RecordError } from "./record-error.ts";
import { type RecordContent, readInBatches, readRecordFile } from "./record-files.ts";
import { nameProblem, type RecordFile } from "./record-name.ts";
import type { SealedTraveller } from "./sealed-traveller.ts";
import { Traveller } from "./traveller.ts";

interface CheckedAfter {
  /** The record that the first one must follow; null at the chain's beginning. */
  readonly head: ChainHead | null;
  readonly disk: Disk;
}

/** Fewer are read before threads have started. */
const MANY = 1000;
/** The newest ones: no later record vouches for the last, and what is checked whole at every start stays so. */
const CHECKED_WHOLE = 64;

/**
 * Checks travellers one after the other, link by link and against their names, and says what the index keeps of them. Of many,
 * all but the newest are read as the hash that the record after them carries allows, in threads; whatever is not in order
 * there is checked whole.
 * @param files in order of their numbers, without gaps
 * @throws RecordError CORRUPT naming the first file that is changed, misnamed or out of the chain, or why one can't be read
 */
export async function* checkedInBatches(
  folder: string,
  files: readonly RecordFile[],
  { head, disk }: CheckedAfter,
): AsyncGenerator<readonly IndexedAttempt[], void, void> {
  const chain = new CheckedChain(folder, head, disk);
  const sealed =
    files.length >= MANY && disk === REAL_DISK && canReadSealed() ? files.length - CHECKED_WHOLE : 0;
  for await (const batch of readSealed(folder, files.slice(0, sealed))) {
    const checked: IndexedAttempt[] = [];
    for (const { file, sealed } of batch) checked.push(await chain.sealed(file, sealed));
    yield checked;
  }
  for await (const batch of readInBatches(folder, files.slice(sealed), disk)) {
    const checked: IndexedAttempt[] = [];
    try {
      for (const content of batch) checked.push(await chain.whole(content));
    } catch (error) {
      // The one before may be what was changed: whoever knows its hash from elsewhere says so first.
      if (checked.length > 0) yield checked;
      throw error;
    }
    yield checked;
  }
}

/** A chain as far as it was followed. */
class CheckedChain {
  readonly #folder: string;
  readonly #disk: Disk;
  #head: ChainHead | null;
  /** The last one, where it was not checked whole, and what it follows. */
  #unchecked: { readonly file: RecordFile; readonly after: ChainHead | null } | null = null;

  constructor(folder: string, head: ChainHead | null, disk: Disk) {
    this.#folder = folder;
    this.#head = head;
    this.#disk = disk;
  }

  async sealed(file: RecordFile, sealed: SealedTraveller | null): Promise<IndexedAttempt> {
    const isInOrder =
      sealed !== null &&
      linkProblem(sealed.chain, this.#head) === null &&
      nameProblem(sealed.attempt, file.path) === null;
    if (!isInOrder) return this.whole(await readRecordFile(this.#folder, file, this.#disk));
    const { sequence, sha256 } = sealed.attempt;
    this.#unchecked = { file, after: this.#head };
    this.#head = { sequence, sha256 };
    return sealed.attempt;
  }

  async whole(content: RecordContent): Promise<IndexedAttempt> {
    const attempt = await this.#check(content);
    this.#unchecked = null;
    this.#head = { sequence: attempt.sequence, sha256: attempt.sha256 };
    return attempt;
  }

  async #check({ file, bytes }: RecordContent): Promise<IndexedAttempt> {
    const record = readRecord(bytes);
    if (!record.ok) throw corrupt(this.#folder, file.path, record.problem);
    const problem = linkProblem(record.chain, this.#head);
    if (problem !== null) {
      await this.#tellOfTheOneBefore();
      throw corrupt(this.#folder, file.path, problem);
    }
    return attemptIn(this.#folder, file, record);
  }

  /** The one that does not carry a hash may be in order, and the one before it changed. */
  async #tellOfTheOneBefore(): Promise<void> {
    if (this.#unchecked === null) return;
    const { file, after } = this.#unchecked;
    await new CheckedChain(this.#folder, after, this.#disk).whole(
      await readRecordFile(this.#folder, file, this.#disk),
    );
  }
}

function attemptIn(
  folder: string,
  file: RecordFile,
  record: { readonly content: unknown; readonly sha256: string },
): IndexedAttempt {
  const traveller = Traveller.safeParse(record.content);
  if (!traveller.success) {
    throw corrupt(folder, file.path, "it is not a traveller that this version of the program knows");
  }
  const attempt = indexedAttempt(traveller.data, record.sha256, file.path);
  const misnamed = nameProblem(attempt, file.path);
  if (misnamed !== null) throw corrupt(folder, file.path, misnamed);
  return attempt;
}

/** @param path relative to the records folder */
export function corrupt(folder: string, path: string, why: string, cause?: unknown): RecordError {
  return notAsRecorded(join(folder, path), why, cause);
}
