import { access, chown, constants, readFile, stat } from "node:fs/promises";
import { basename, dirname } from "node:path";
import type { z } from "zod";
import { describeProblem, FileProblems, readCheckedYaml } from "../../limits/checked-yaml.ts";
import { replaceFile } from "../records/durable-file.ts";
import { errnoOf, RecordError } from "../records/record-error.ts";
import { inTurn } from "./file-turn.ts";

/** A JSON file that programs read and rewrite as a whole, for its owner's eyes only. */
export class SmallFile<T> {
  readonly path: string;
  readonly #schema: z.ZodType<T>;
  /** What somebody does about a broken one, as a sentence. */
  readonly #remedy: string;

  constructor(path: string, schema: z.ZodType<T>, remedy: string) {
    this.path = path;
    this.#schema = schema;
    this.#remedy = remedy;
  }

  /**
   * @returns null where there is none
   * @throws RecordError in one sentence: which file, what is wrong, what to do
   */
  async read(): Promise<T | null> {
    let text: string;
    try {
      text = await readFile(this.path, "utf8");
    } catch (error) {
      if (errnoOf(error) === "ENOENT") return null;
      throw refusal(error, this.path, "read");
    }
    try {
      JSON.parse(text);
    } catch {
      // YAML would read most of half a JSON file in its own way.
      throw this.#broken("it is no whole JSON file");
    }
    try {
      return readCheckedYaml(basename(this.path), text, this.#schema);
    } catch (error) {
      if (!(error instanceof FileProblems)) throw error;
      const [first] = error.problems;
      throw this.#broken(first ? describeProblem(first) : error.message);
    }
  }

  /**
   * Reads, changes and rewrites it while nobody else does: whole or not at all, and no other program's change is lost.
   * @param change given null where there is no file yet; what it throws leaves the file alone
   * @throws RecordError as `read` does, or when it can't be written
   */
  async edit(change: (now: T | null) => T | Promise<T>): Promise<T> {
    await this.requireWritable();
    try {
      return await inTurn(this.path, () => this.#change(change));
    } catch (error) {
      // The turn is a database's lock.
      throw errnoOf(error).startsWith("SQLITE_") ? refusal(error, this.path, "written") : error;
    }
  }

  /** @throws RecordError where an edit could write nothing */
  async requireWritable(): Promise<void> {
    try {
      await access(dirname(this.path), constants.W_OK);
    } catch (error) {
      throw refusal(error, this.path, "written");
    }
  }

  async #change(change: (now: T | null) => T | Promise<T>): Promise<T> {
    const now = await this.read();
    const next = await change(now);
    if (next === now) return next;
    try {
      await replaceFile(`${JSON.stringify(next, null, 2)}\n`, `${this.path}.new`, this.path, 0o600);
      await giveToFolderOwner(this.path, `${this.path}.lock`);
    } catch (error) {
      throw refusal(error, this.path, "written");
    }
    return next;
  }

  #broken(why: string): RecordError {
    return new RecordError("CORRUPT", this.path, `${this.path} is broken (${why}). ${this.#remedy}`);
  }
}

/** What root writes for a station must stay readable for the station, whose folder it is. */
async function giveToFolderOwner(...paths: readonly string[]): Promise<void> {
  if (process.getuid?.() !== 0) return;
  for (const path of paths) {
    const { uid, gid } = await stat(dirname(path));
    await chown(path, uid, gid);
  }
}

function refusal(error: unknown, path: string, what: "read" | "written"): RecordError {
  const code = error instanceof RecordError ? error.code : (CODES[errnoOf(error)] ?? "IO_FAILED");
  const failed = `${path} could not be ${what}`;
  const access = what === "read" ? "read access to it" : "write access to its folder";
  const words: Partial<Record<typeof code, string>> = {
    DISK_FULL: `${failed}: the disk is full. Free some space, then try again.`,
    NOT_WRITABLE: `${failed}: give this user ${access}, then try again.`,
    FOLDER_GONE: `${failed}: its folder is not there. Check the path, and that its disk is connected.`,
  };
  const why = error instanceof Error ? error.message : String(error);
  return new RecordError(code, path, words[code] ?? `${failed} (${why}). Check the disk.`, { cause: error });
}

const CODES: Readonly<Record<string, RecordError["code"] | undefined>> = {
  ENOSPC: "DISK_FULL",
  EDQUOT: "DISK_FULL",
  SQLITE_FULL: "DISK_FULL",
  SQLITE_READONLY: "NOT_WRITABLE",
  SQLITE_CANTOPEN: "NOT_WRITABLE",
  EACCES: "NOT_WRITABLE",
  EPERM: "NOT_WRITABLE",
  EROFS: "NOT_WRITABLE",
  ENOENT: "FOLDER_GONE",
  ENOTDIR: "FOLDER_GONE",
};
