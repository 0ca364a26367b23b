import { join } from "node:path";
import { type ChainHead, type ChainLink, linkProblem, readRecord } from "./chain.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import type { IndexedAttempt } from "./index-db.ts";
import { indexedAttempt } from "./indexed-attempt.ts";
import { canReadSealed, SealedThreads, THREADS_FROM } from "./read-sealed.ts";
import { notAsRecorded, type RecordError } from "./record-error.ts";
import { type RecordContent, readInBatches, readRecordFile } from "./record-files.ts";
import { nameProblem, type RecordFile } from "./record-name.ts";
import type { SealedTraveller } from "./sealed-traveller.ts";
import { Traveller } from "./traveller.ts";

interface CheckedAfter {
  /** The record that the first one must follow; null at the chain's beginning. */
  readonly head: ChainHead | null;
  readonly disk: Disk;
  /** Threads that were started already, and that whoever did so ends. */
  readonly threads?: SealedThreads | undefined;
}

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
  { head, disk, threads }: CheckedAfter,
): AsyncGenerator<readonly IndexedAttempt[], void, void> {
  const chain = new CheckedChain(folder, head, disk);
  const isInThreads = files.length >= THREADS_FROM && disk === REAL_DISK && canReadSealed();
  const sealed = isInThreads ? files.length - CHECKED_WHOLE : 0;
  if (isInThreads) {
    // Meanwhile this thread has nothing else to do, and the first whole check takes a while: its library has to get going.
    const newest = examinedInOne(folder, files.slice(sealed), disk);
    newest.catch(() => undefined);
    yield* sealedInBatches(chain, files.slice(0, sealed), threads ?? folder);
    yield* chain.wholeInBatches([await newest]);
    return;
  }
  yield* chain.wholeInBatches(examinedInBatches(folder, files, disk));
}

async function* sealedInBatches(
  chain: CheckedChain,
  files: readonly RecordFile[],
  by: SealedThreads | string,
): AsyncGenerator<readonly IndexedAttempt[], void, void> {
  const threads = typeof by === "string" ? new SealedThreads(by) : by;
  try {
    for await (const batch of threads.read(files)) {
      const checked: IndexedAttempt[] = [];
      for (const { file, sealed } of batch) checked.push(await chain.sealed(file, sealed));
      yield checked;
    }
  } finally {
    if (threads !== by) await threads.end();
  }
}

async function* examinedInBatches(
  folder: string,
  files: readonly RecordFile[],
  disk: Disk,
): AsyncGenerator<readonly Examined[], void, void> {
  for await (const batch of readInBatches(folder, files, disk)) yield batch.map(examined);
}

async function examinedInOne(
  folder: string,
  files: readonly RecordFile[],
  disk: Disk,
): Promise<readonly Examined[]> {
  const all: Examined[] = [];
  for await (const batch of examinedInBatches(folder, files, disk)) all.push(...batch);
  return all;
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
    if (!isInOrder) return this.#whole(await this.#examine(file));
    const { sequence, sha256 } = sealed.attempt;
    this.#unchecked = { file, after: this.#head };
    this.#head = { sequence, sha256 };
    return sealed.attempt;
  }

  async *wholeInBatches(
    batches: Iterable<readonly Examined[]> | AsyncIterable<readonly Examined[]>,
  ): AsyncGenerator<readonly IndexedAttempt[], void, void> {
    for await (const batch of batches) {
      const checked: IndexedAttempt[] = [];
      try {
        for (const one of batch) checked.push(await this.#whole(one));
      } catch (error) {
        // The one before may be what was changed: whoever knows its hash from elsewhere says so first.
        if (checked.length > 0) yield checked;
        throw error;
      }
      yield checked;
    }
  }

  async #whole({ file, chain, attempt, problem }: Examined): Promise<IndexedAttempt> {
    if (chain === null) throw corrupt(this.#folder, file.path, problem);
    const unlinked = linkProblem(chain, this.#head);
    if (unlinked !== null) {
      await this.#tellOfTheOneBefore();
      throw corrupt(this.#folder, file.path, unlinked);
    }
    if (attempt === null) throw corrupt(this.#folder, file.path, problem);
    const { sequence, sha256 } = attempt;
    this.#unchecked = null;
    this.#head = { sequence, sha256 };
    return attempt;
  }

  /** The one that does not carry a hash may be in order, and the one before it changed. */
  async #tellOfTheOneBefore(): Promise<void> {
    if (this.#unchecked === null) return;
    const { file, after } = this.#unchecked;
    await new CheckedChain(this.#folder, after, this.#disk).#whole(await this.#examine(file));
  }

  async #examine(file: RecordFile): Promise<Examined> {
    return examined(await readRecordFile(this.#folder, file, this.#disk));
  }
}

/** What a whole check finds in one file, whatever comes before it: its attempt, or the problem; its place in the chain where it has one. */
interface Examined {
  readonly file: RecordFile;
  readonly chain: ChainLink | null;
  readonly attempt: IndexedAttempt | null;
  readonly problem: string;
}

function examined({ file, bytes }: RecordContent): Examined {
  const record = readRecord(bytes);
  if (!record.ok) return { file, chain: null, attempt: null, problem: record.problem };
  const { chain } = record;
  const traveller = Traveller.safeParse(record.content);
  if (!traveller.success) {
    const problem = "it is not a traveller that this version of the program knows";
    return { file, chain, attempt: null, problem };
  }
  const attempt = indexedAttempt(traveller.data, record.sha256, file.path);
  const problem = nameProblem(attempt, file.path);
  return problem === null ? { file, chain, attempt, problem: "" } : { file, chain, attempt: null, problem };
}

/** @param path relative to the records folder */
export function corrupt(folder: string, path: string, why: string, cause?: unknown): RecordError {
  return notAsRecorded(join(folder, path), why, cause);
}
