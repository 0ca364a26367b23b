import { requireFolder } from "./audit-listing.ts";
import type { ChainHead } from "./chain.ts";
import { corrupt } from "./checked-travellers.ts";
import { decidedInFiles } from "./decided-files.ts";
import { REAL_DISK } from "./disk.ts";
import { dispositionChain } from "./disposition-log.ts";
import { FolderLock } from "./folder-lock.ts";
import { RecordIndex } from "./index-db.ts";
import { removeUnfinished, takeUnfinished } from "./index-file.ts";
import { completeNamingDoubles, type SyncOptions, syncIndex } from "./index-sync.ts";
import { canReadSealed, SealedThreads, THREADS_FROM } from "./read-sealed.ts";
import { fileError, RecordError } from "./record-error.ts";
import { EVENTS } from "./station-logs.ts";

export interface RebuildAsked {
  /** The records folder. */
  readonly folder: string;
  readonly at_ms: number;
  readonly onProgress?: (done: number, of: number) => void;
}

/**
 * Makes a folder's index anew from its travellers and dispositions, beside the old one, and puts it in its place once it is whole. Whoever is
 * killed meanwhile leaves the old one as it was.
 *
 * Nothing that the old index gives away is lost with it: where it knows of a newest traveller or disposition that is not there any
 * more, or not as it was, there is no new one. What it was told of the end of the events goes over into the new one.
 * @returns how many travellers the index has now
 * @throws RecordError FOLDER_IN_USE while a station runs; CORRUPT naming the first record that is not as it was recorded, and
 * the old index is left as it was; FOLDER_MISSING, or why the folder can't be read or written
 */
export async function rebuildIndex({ folder, at_ms, onProgress }: RebuildAsked): Promise<number> {
  requireFolder(folder);
  const lock = FolderLock.acquire({ folder, station: "drumtight index rebuild", since_ms: at_ms });
  try {
    // The database's own words say less.
    await REAL_DISK.access(folder, "writable");
    return await rebuildLocked(folder, onProgress);
  } catch (error) {
    removeUnfinished(folder, REAL_DISK);
    const told = fileError(error, folder, `The index of ${folder} could not be made anew`);
    throw told.code === "DISK_FULL" ? noRoom(folder, error) : told;
  } finally {
    lock.release();
  }
}

async function rebuildLocked(folder: string, onProgress: RebuildAsked["onProgress"]): Promise<number> {
  const old = known(folder);
  // They start while the folder is listed. Where the old index has few travellers, the folder mostly has as few.
  const isMany = old === null || (old.newest?.sequence ?? 0) >= THREADS_FROM;
  const threads = isMany && canReadSealed() ? new SealedThreads(folder) : undefined;
  try {
    return await madeAnew(folder, old, { threads, ...(onProgress && { onProgress }) });
  } finally {
    await threads?.end();
  }
}

async function madeAnew(folder: string, old: Known | null, options: SyncOptions): Promise<number> {
  const index = RecordIndex.beside(folder);
  let end: ChainHead | null;
  try {
    end = await syncIndex(folder, index, options);
    if (end === null && old === null) throw noRecords(folder);
    if (old?.newest) requireKnown(folder, index, old.newest);
    if (old?.decided) await dispositionChain(folder).require(old.decided);
    index.decided.putRight(await decidedInFiles(folder));
    if (old?.noted) index.keepHead(EVENTS, old.noted);
    completeNamingDoubles(folder, index);
  } finally {
    index.close();
  }
  await takeUnfinished(folder, REAL_DISK);
  return end?.sequence ?? 0;
}

interface Known {
  readonly newest: (ChainHead & { readonly path: string }) | null;
  readonly decided: ChainHead | null;
  readonly noted: ChainHead | null;
}

/** @returns what the folder's own index gives away of the ends; null where there is none that can be read */
function known(folder: string): Known | null {
  const index = RecordIndex.openToRead(folder);
  if (index === undefined) return null;
  try {
    const { head } = index.end();
    const newest = head === null ? undefined : index.bySequence(head.sequence);
    return { newest: newest ?? null, decided: index.decided.end(), noted: index.headOf(EVENTS) };
  } catch {
    return null;
  } finally {
    index.close();
  }
}

function requireKnown(
  folder: string,
  made: RecordIndex,
  { sequence, sha256, path }: NonNullable<Known["newest"]>,
): void {
  const found = made.bySequence(sequence);
  if (found === undefined) {
    throw corrupt(folder, path, `the index has it as number ${sequence}, and it is not there any more`);
  }
  if (found.sha256 !== sha256) {
    throw corrupt(
      folder,
      found.path,
      `the index has another SHA-256 for number ${sequence}: it, or one before it, was changed after it was recorded`,
    );
  }
}

/** No station runs that has a fault to acknowledge. */
function noRoom(folder: string, cause: unknown): RecordError {
  return new RecordError(
    "DISK_FULL",
    folder,
    `The disk of ${folder} has no room for a new index beside the old one: none was made, and the old one is as it was. Free some space, then make it anew again.`,
    { cause },
  );
}

function noRecords(folder: string): RecordError {
  return new RecordError(
    "FOLDER_MISSING",
    folder,
    `There are no travellers in ${folder}: give a records folder with --records.`,
  );
}
