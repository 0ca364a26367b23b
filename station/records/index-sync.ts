import { dirname, join } from "node:path";
import Database from "libsql";
import type { ChainHead } from "./chain.ts";
import { checkedInBatches, corrupt } from "./checked-travellers.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { syncFolder } from "./durable-file.ts";
import type { IndexedAttempt, RecordIndex } from "./index-db.ts";
import type { SealedThreads } from "./read-sealed.ts";
import type { RecordError } from "./record-error.ts";
import { listRecords, type RecordFile } from "./record-name.ts";

/** Records looked at again although the index has them: the last link is checked at every start. */
const OVERLAP = 2;

export interface SyncOptions {
  readonly disk?: Disk;
  readonly threads?: SealedThreads | undefined;
  /** Told now and then how many of how many travellers the index has. */
  readonly onProgress?: (done: number, of: number) => void;
}

/**
 * Brings the index up to the files and finds the chain's end. Usually that is comparing names and reading the
 * last two files; what the index lacks is read, checked link by link, held against its name and added, all of it if
 * the index is new.
 * @returns the last record, null for an empty folder
 * @throws RecordError CORRUPT naming the file when a record is missing, changed, renamed, doubled or out of
 * the chain
 */
export async function syncIndex(
  folder: string,
  index: RecordIndex,
  { disk = REAL_DISK, threads, onProgress }: SyncOptions = {},
): Promise<ChainHead | null> {
  const files = await listRecords(folder, disk);
  requireNoGap(folder, files, index);
  const known = completeRecords(index);
  if (known > files.length) throw missing(folder, index, files.length + 1);
  requireSameNames(folder, files, known === 0 ? [] : index.paths());
  const start = Math.max(0, Math.min(known, files.length) - OVERLAP);
  let head: ChainHead | null = start === 0 ? null : (index.bySequence(start) ?? null);
  const durable = new Set<string>();
  for await (const added of checkedInBatches(folder, files.slice(start), { head, disk, threads })) {
    const lacked: IndexedAttempt[] = [];
    for (const attempt of added) {
      if (attempt.sequence > known) lacked.push(attempt);
      else if (index.bySequence(attempt.sequence)?.sha256 !== attempt.sha256) {
        throw corrupt(folder, attempt.path, "it was changed after it was recorded");
      }
      head = attempt;
    }
    // Whoever wrote them may have been killed before this: the index must not know what a power cut still takes away.
    for (const day of new Set(lacked.map(({ path }) => dirname(path)))) {
      if (!durable.has(day)) await syncFolder(join(folder, day), disk);
      durable.add(day);
    }
    addNamingDoubles(folder, index, lacked);
    onProgress?.(head?.sequence ?? 0, files.length);
  }
  return head === null ? null : { sequence: head.sequence, sha256: head.sha256 };
}

/** @returns how many records the index holds, after emptying one that has holes */
function completeRecords(index: RecordIndex): number {
  const { records, head } = index.end();
  if (records === (head?.sequence ?? 0)) return records;
  index.startAnew();
  return 0;
}

function requireNoGap(folder: string, files: readonly RecordFile[], index: RecordIndex): void {
  const at = files.findIndex((file, position) => file.sequence !== position + 1);
  const file = files[at];
  if (file === undefined) return;
  const before = files[at - 1];
  if (before?.sequence === file.sequence) {
    throw corrupt(folder, file.path, `it has the same number as ${before.path}`);
  }
  throw missing(folder, index, at + 1, file.path);
}

function requireSameNames(folder: string, files: readonly RecordFile[], recorded: readonly string[]): void {
  for (const [at, path] of recorded.entries()) {
    const found = files[at]?.path ?? "";
    if (found !== path) throw corrupt(folder, found, `it was recorded as ${path}`);
  }
}

function addNamingDoubles(folder: string, index: RecordIndex, attempts: readonly IndexedAttempt[]): void {
  if (attempts.length === 0) return;
  try {
    index.add(attempts);
  } catch (error) {
    if (!isDouble(error)) throw error;
    for (const attempt of attempts) {
      try {
        index.add([attempt]);
      } catch (cause) {
        throw recordedTwice(folder, attempt, cause);
      }
    }
  }
}

/**
 * Completes an index that was made beside the folder's own.
 * @throws RecordError CORRUPT naming a traveller of an attempt that another one is of
 */
export function completeNamingDoubles(folder: string, index: RecordIndex): void {
  try {
    index.complete();
  } catch (error) {
    const doubled = isDouble(error) ? index.doubled() : undefined;
    throw doubled ? recordedTwice(folder, doubled, error) : error;
  }
}

function isDouble(error: unknown): boolean {
  return error instanceof Database.SqliteError && error.code.startsWith("SQLITE_CONSTRAINT");
}

function recordedTwice(
  folder: string,
  { path, serial, attempt }: Pick<IndexedAttempt, "path" | "serial" | "attempt">,
  cause: unknown,
): RecordError {
  return corrupt(folder, path, `attempt ${attempt} of ${serial} is recorded twice`, cause);
}

function missing(folder: string, index: RecordIndex, sequence: number, next?: string): RecordError {
  const path = index.bySequence(sequence)?.path;
  if (path !== undefined) return corrupt(folder, path, "it was recorded and is not there any more");
  return corrupt(folder, next ?? "", `record number ${sequence}, which should come before it, is not there`);
}
