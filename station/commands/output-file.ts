import { randomUUID } from "node:crypto";
import { lstat, open, realpath, rename, rm, stat } from "node:fs/promises";
import { basename, dirname, join, relative, resolve, sep } from "node:path";
import { UsageError } from "../explain.ts";
import { syncFolder } from "../records/durable-file.ts";
import { errnoOf } from "../records/record-error.ts";

/** Where a command's answer goes, as it was asked for. */
export interface OutputPlace {
  /** The file as typed; "-" or undefined for standard output. */
  readonly out: string | undefined;
  /** A file that is there already is replaced. */
  readonly force?: boolean | undefined;
  /** What is written, for sentences: "workbook", "page". */
  readonly what: string;
  /** The option that names the file, "--out" where not given. */
  readonly option?: string;
  /** Bytes that mean nothing to a terminal. */
  readonly isBinary?: boolean;
  /** A records folder, in which nothing but records may be written. */
  readonly records?: string | undefined;
}

/**
 * Refuses a place that nothing could be written to, before the work is done. Nothing is made or changed.
 * @throws UsageError in one sentence that says what to do
 * @example await requireOutputPlace({ out: "day.csv", what: "table" }) // "day.csv is there already: ..."
 */
export async function requireOutputPlace(place: OutputPlace): Promise<void> {
  const { out, option = "--out", what } = place;
  if (isStandardOutput(out)) {
    if (place.force) {
      throw new UsageError(
        `--force is for a file that is to be replaced: name it by ${option} FILE, or leave --force out.`,
      );
    }
    if (place.isBinary && process.stdout.isTTY) {
      throw new UsageError(`A ${what} can't be shown on a terminal: name a file for it by ${option} FILE.`);
    }
    return;
  }
  if (out.trim() === "") throw new UsageError(`${option} needs the name of a file.`);
  try {
    await requireFreePlace(place, out);
  } catch (error) {
    throw notWritten(out, what, error);
  }
}

/**
 * Writes an answer to its file, whole or not at all, or to standard output. The order is temporary file, fsync, rename, and
 * the name of a file that must not be there is taken just before that, so that two commands can't both write it.
 * @param content texts are written as UTF-8
 * @throws UsageError where it can't be written; what was there before is there still
 */
export async function writeOutput(content: string | Uint8Array, place: OutputPlace): Promise<void> {
  await requireOutputPlace(place);
  const { out, what } = place;
  if (isStandardOutput(out)) {
    process.stdout.write(content);
    return;
  }
  let claimed: string | undefined;
  let part: string | undefined;
  try {
    // Through a link to the file that it names: the link stays one.
    const target = await realpath(out).catch((error) => {
      if (errnoOf(error) !== "ENOENT") throw error;
      return resolve(out);
    });
    part = join(dirname(target), `.${basename(target).slice(0, 100)}-${randomUUID()}.part`);
    await writeSynced(part, content);
    // Just before the rename: whoever ends the program while it writes leaves no empty file of that name.
    if (!place.force) {
      await (await open(target, "wx")).close();
      claimed = target;
    }
    await rename(part, target);
    part = claimed = undefined;
    // Not every share can do that, and the file can be made again.
    await syncFolder(dirname(target)).catch(() => undefined);
  } catch (error) {
    throw notWritten(out, what, error);
  } finally {
    for (const left of [part, claimed]) if (left !== undefined) await rm(left, { force: true });
  }
}

function isStandardOutput(out: string | undefined): out is undefined | "-" {
  return out === undefined || out === "-";
}

async function requireFreePlace(place: OutputPlace, out: string): Promise<void> {
  const { force, what, option = "--out" } = place;
  const folder = await realpath(dirname(resolve(out)));
  if (!(await stat(folder)).isDirectory()) throw Object.assign(new Error(), { code: "ENOTDIR" });
  await requireNoRecords(place, out, folder);
  const there = await lstat(out).catch((error) => {
    if (errnoOf(error) !== "ENOENT") throw error;
  });
  if (!there) {
    if (/[\\/]$/.test(out)) throw Object.assign(new Error(), { code: "EISDIR" });
    return;
  }
  const meant = await stat(out).catch((error) => {
    if (errnoOf(error) !== "ENOENT") throw error;
    throw new UsageError(`${out} is a link to a file that is not there: give ${option} the name of a file.`);
  });
  await requireNoRecords(place, out, dirname(await realpath(out)));
  if (meant.isDirectory()) throw Object.assign(new Error(), { code: "EISDIR" });
  if (!meant.isFile()) {
    throw new UsageError(
      `${out} is no file that a ${what} could be written to: give ${option} another name, or - for standard output.`,
    );
  }
  if (!force) {
    throw new UsageError(
      `${out} is there already and was left as it is: give ${option} another name, or add --force to replace it.`,
    );
  }
}

async function requireNoRecords(
  { option = "--out", records }: OutputPlace,
  out: string,
  folder: string,
): Promise<void> {
  if (records === undefined) return;
  const kept = await realpath(records).catch(() => resolve(records));
  if (!isInside(folder, kept)) return;
  throw new UsageError(
    `${out} is in the records folder, where nothing but records may be written: give ${option} a file elsewhere.`,
  );
}

function isInside(folder: string, outer: string): boolean {
  const way = relative(outer, folder);
  return way === "" || !(way === ".." || way.startsWith(`..${sep}`) || resolve(way) === way);
}

async function writeSynced(path: string, content: string | Uint8Array): Promise<void> {
  const file = await open(path, "wx");
  try {
    await file.writeFile(content);
    await file.sync();
  } finally {
    await file.close();
  }
}

function notWritten(out: string, what: string, error: unknown): UsageError {
  if (error instanceof UsageError) return error;
  const why =
    WORDS[errnoOf(error)] ??
    `${error instanceof Error ? error.message : String(error)}; check the disk, or give another file`;
  return new UsageError(`The ${what} ${out} was not written: ${why}.`);
}

const WORDS: Readonly<Record<string, string | undefined>> = {
  EEXIST: "somebody else has just made a file of that name; give another, or add --force to replace it",
  ENOENT: "its folder is not there; make it, or give another",
  ENOTDIR: "a part of that path is a file; give a path whose folders are folders",
  EISDIR: "that is a folder; give the name of a file in it",
  ENAMETOOLONG: "the name is too long; give a shorter one",
  ELOOP: "its links lead in a circle; give another name",
  EACCES: "you may not write there; give another folder",
  EPERM: "you may not write there; give another folder",
  EROFS: "nothing can be written there; give another folder",
  ENOSPC: "the disk is full; free some space, then try again",
  EDQUOT: "the disk is full; free some space, then try again",
};
