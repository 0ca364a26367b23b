import { readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import { type AuditedFile, AuditReader } from "./audit-read.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { errnoOf, readError } from "./record-error.ts";
import type { RecordFile } from "./record-name.ts";

/**
 * Reads travellers that are counted: one that the disk no longer gives, or in whose place something else lies, is one that is left
 * out, and no reason to count nothing. A link is followed, since old records may have been put on another disk; a pipe is not waited for.
 */
export class TravellerReader {
  readonly #reader = new AuditReader();

  /**
   * One after the other into the same memory: to make room for each takes three times as long as to read and hash it.
   * @returns what holds until the next read, or why there is none
   * @throws RecordError NOT_READABLE where the user who asks may not read it: nothing is wrong with the record
   */
  read(path: string): AuditedFile {
    const read = this.#reader.read(path);
    if (read.ok || read.isGone) return read;
    let isFile: boolean;
    try {
      isFile = statSync(path).isFile();
    } catch (error) {
      requirePermitted(error, path);
      return { ...read, problem: `it is a link, and what it leads to can't be read (${errnoOf(error)})` };
    }
    if (!isFile) return { ...read, problem: "it is a folder or a device, no file" };
    try {
      return { ok: true, bytes: readFileSync(path) };
    } catch (error) {
      requirePermitted(error, path);
      return read;
    }
  }
}

function requirePermitted(error: unknown, path: string): void {
  if (["EACCES", "EPERM"].includes(errnoOf(error)))
    throw readError(error, path, `The record ${path} can't be read`);
}

/** A disk on which a traveller that can't be read is an empty one, which is no record, and that keeps why. */
export class TravellerDisk {
  readonly #problems = new Map<string, string>();
  readonly disk: Disk;

  constructor() {
    const reader = new TravellerReader();
    this.disk = {
      ...REAL_DISK,
      readFile: async (path) => {
        const read = reader.read(path);
        if (read.ok) return Buffer.from(read.bytes);
        this.#problems.set(path, read.problem);
        return Buffer.alloc(0);
      },
    };
  }

  /** @returns why a file could not be read, as a sentence's end; undefined where it could */
  problemOf(folder: string, { path }: RecordFile): string | undefined {
    return this.#problems.get(join(folder, path));
  }
}
