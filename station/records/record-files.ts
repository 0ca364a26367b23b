import { lstatSync } from "node:fs";
import { join } from "node:path";
import { type Disk, REAL_DISK } from "./disk.ts";
import { errnoOf, notAsRecorded, readError } from "./record-error.ts";
import type { RecordFile } from "./record-name.ts";

/** A record's file with what is in it. */
export interface RecordContent {
  readonly file: RecordFile;
  readonly bytes: Buffer;
}

const READ_AT_ONCE = 128;

/**
 * Reads many records, in the order given; while one batch is worked on, the next is being read.
 * @throws RecordError naming the file that can't be read
 */
export async function* readInBatches(
  folder: string,
  files: readonly RecordFile[],
  disk: Disk = REAL_DISK,
): AsyncGenerator<readonly RecordContent[], void, void> {
  const batchFrom = (at: number) => {
    const batch = Promise.all(
      files.slice(at, at + READ_AT_ONCE).map((file) => readRecordFile(folder, file, disk)),
    );
    // Whoever stops early never asks for it.
    batch.catch(() => undefined);
    return batch;
  };
  let ahead = batchFrom(0);
  for (let at = 0; at < files.length; at += READ_AT_ONCE) {
    const batch = await ahead;
    ahead = batchFrom(at + READ_AT_ONCE);
    yield batch;
  }
}

/** @throws RecordError */
export async function readRecordFile(
  folder: string,
  file: RecordFile,
  disk: Disk = REAL_DISK,
): Promise<RecordContent> {
  const path = join(folder, file.path);
  try {
    return { file, bytes: await disk.readFile(path) };
  } catch (error) {
    if (errnoOf(error) === "ENOENT" && lstatSync(path, { throwIfNoEntry: false })?.isSymbolicLink()) {
      throw notAsRecorded(path, "it is a link, and what it leads to is not there", error);
    }
    throw readError(error, path, `The record ${path} can't be read`);
  }
}
