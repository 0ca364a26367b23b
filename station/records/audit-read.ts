import { closeSync, constants, fstatSync, openSync, readSync } from "node:fs";
import { errnoOf } from "./record-error.ts";

export type AuditedFile =
  | { readonly ok: true; readonly bytes: Buffer }
  | { readonly ok: false; readonly isGone: boolean; readonly problem: string };

/** No record comes near it; what is larger is none, and is not read. */
const LARGEST_bytes = 64 * 1024 * 1024;
/** Neither a link's target nor a pipe's other end is waited for or believed. Windows has neither flag. */
const FLAGS = constants.O_RDONLY | (constants.O_NOFOLLOW ?? 0) | (constants.O_NONBLOCK ?? 0);

/** Of all readers: what is read is looked at before the next is, and a buffer for each reader would be thrown away soon. */
let memory: Buffer | undefined;

/** Reads one file after the other into the same memory: what any reader returned last holds until the next read. */
export class AuditReader {
  /** Never throws: what can't be read is told in words that end a sentence about the file. */
  read(path: string): AuditedFile {
    let file: number;
    try {
      file = openSync(path, FLAGS);
    } catch (error) {
      return failed(error);
    }
    try {
      const kind = fstatSync(file);
      const { size } = kind;
      if (!kind.isFile()) return { ok: false, isGone: false, problem: "it is a folder or a device, no file" };
      if (size > LARGEST_bytes)
        return { ok: false, isGone: false, problem: "it is far too large for a record" };
      return { ok: true, bytes: whole(file, size) };
    } catch (error) {
      return failed(error);
    } finally {
      closeSync(file);
    }
  }
}

function whole(file: number, size: number): Buffer {
  memory ??= Buffer.allocUnsafe(128 * 1024);
  // One more, so that a file that is longer than it said shows.
  if (memory.length <= size) memory = Buffer.allocUnsafe(2 * (size + 1));
  let length = 0;
  while (length < memory.length) {
    const asked = memory.length - length;
    const read = readSync(file, memory, length, asked, null);
    length += read;
    // It ends there: more was asked for, and it is as long as it said.
    if (read === 0 || (read < asked && length === size)) break;
  }
  return memory.subarray(0, length);
}

function failed(error: unknown): AuditedFile {
  const errno = errnoOf(error);
  if (errno === "") throw error;
  return { ok: false, isGone: errno === "ENOENT", problem: WORDS[errno] ?? `it can't be read (${errno})` };
}

const WORDS: Readonly<Record<string, string>> = {
  ENOENT: "it is not there any more",
  ENOTDIR: "it is not there any more",
  ELOOP: "it is a symbolic link, and no record is one",
  EACCES: "the user who asks may not read it",
  EPERM: "the user who asks may not read it",
  EIO: "the disk can't read it",
};
