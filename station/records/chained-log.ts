import { randomUUID } from "node:crypto";
import { join } from "node:path";
import { z } from "zod";
import {
  type ChainHead,
  type ChainLink,
  canonicalText,
  linkProblem,
  readRecord,
  sha256Hex,
} from "./chain.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { makeFolders, syncFolder, writeOnce } from "./durable-file.ts";
import { errnoOf, fileError, notAsRecorded, RecordError, readError } from "./record-error.ts";
import { type RecordContent, readInBatches, readRecordFile } from "./record-files.ts";
import type { RecordFile } from "./record-name.ts";

export interface LogSettings<T> {
  /** The records folder, and the log's own in it. */
  readonly folder: string;
  readonly name: string;
  /** What one record is, for sentences: "disposition". */
  readonly what: string;
  readonly schema: z.ZodType<T>;
  readonly disk?: Disk;
}

/** A record of a log, checked against the one before it. */
export interface LogEntry<T> extends ChainHead {
  readonly content: T;
  /** The file, to the byte. */
  readonly text: string;
}

const NUMBER_DIGITS = 8;
const ENTRY_NAME = /^(\d{8,15})\.json$/;
const PART_NAME = /^\.(\d+)-[0-9a-f-]+\.part$/;
/** Every failed try is somebody else's record: so many in a row are no coincidence. */
const MOST_TRIES = 1000;
/** Read at once where a log is followed back from its end. */
const BACKWARDS_AT_ONCE = 64;

/**
 * An append-only log of small records, one file each: `NAME/00000001.json`, canonical JSON with its number and the hash of
 * the record before. The name is the number alone, and a file is written once or not at all, so that two processes can't
 * both take a number: who comes second reads the other's record and takes the next.
 */
export class ChainedLog<T extends { readonly chain: ChainLink }> {
  readonly #settings: LogSettings<T>;
  readonly #disk: Disk;
  /** The newest record that is known; undefined until somebody looked. */
  #head: ChainHead | null | undefined;
  #isMade = false;
  #broken: RecordError | undefined;
  #tail: Promise<unknown> = Promise.resolve();

  constructor(settings: LogSettings<T>) {
    this.#settings = settings;
    this.#disk = settings.disk ?? REAL_DISK;
  }

  /**
   * @param head a record that was read and checked before; null for all there are
   * @returns the records after it, in order
   * @throws RecordError CORRUPT naming the first file that is missing, torn, foreign or changed
   */
  async after(head: ChainHead | null): Promise<LogEntry<T>[]> {
    if (head !== null && !(await this.#isThere(head.sequence + 1))) return [];
    const files = (await this.#files()).filter(({ sequence }) => sequence > (head?.sequence ?? 0));
    return this.#readFrom(files, head);
  }

  /**
   * The end of the log, read back only as far as needed.
   * @param isWanted true for newer records and false for older ones; a clock that was put back may mix some
   * @returns wanted records up to the end, in order
   * @throws RecordError CORRUPT, of what was read
   */
  async newest(isWanted: (content: T) => boolean): Promise<LogEntry<T>[]> {
    const files = await this.#files();
    const found: LogEntry<T>[] = [];
    for (let end = files.length; end > 0; end -= BACKWARDS_AT_ONCE) {
      const start = Math.max(0, end - BACKWARDS_AT_ONCE);
      const before = files[start - 1];
      const head = before ? await this.#headOf(before) : null;
      const wanted = (await this.#readFrom(files.slice(start, end), head)).filter(({ content }) =>
        isWanted(content),
      );
      found.unshift(...wanted);
      if (wanted.length === 0) break;
    }
    return found;
  }

  /** @returns the newest record's place, after checking that it carries the hash of the one before; null for none */
  async end(): Promise<ChainHead | null> {
    const last = (await this.#files()).slice(-2);
    const before = last.length === 2 && last[0] ? await this.#headOf(last[0]) : null;
    const entry = (await this.#readFrom(last.slice(-1), before)).at(-1);
    return entry ? { sequence: entry.sequence, sha256: entry.sha256 } : null;
  }

  /** @throws RecordError CORRUPT where a record that is known to have been written is not there, or is another one */
  async require({ sequence, sha256 }: ChainHead): Promise<void> {
    const file = this.#file(sequence);
    if (!(await this.#isThere(sequence)))
      throw this.#corrupt(file, "it was recorded and is not there any more");
    if ((await this.#headOf(file)).sha256 !== sha256) {
      throw this.#corrupt(file, "it was changed after it was recorded");
    }
  }

  /**
   * Adds a record durably; on return it is on the disk. Nothing is left behind where it throws.
   * @param content all but its place in the chain
   * @throws RecordError DISK_FULL, INVALID_RECORD, CORRUPT ...
   */
  append(content: Omit<T, "chain">): Promise<LogEntry<T>> {
    const turn = this.#tail.then(async () => {
      if (this.#broken) throw this.#broken;
      try {
        await this.#makeFolder();
        return await this.#append(content);
      } catch (error) {
        const failure = fileError(error, this.#path(), `The ${this.#settings.what} could not be written`);
        if (failure.code === "IN_DOUBT") this.#broken = failure;
        throw failure;
      }
    });
    this.#tail = turn.catch(() => undefined);
    return turn;
  }

  /** Waits for what is under way. */
  async settled(): Promise<void> {
    await this.#tail;
  }

  async #append(content: Omit<T, "chain">): Promise<LogEntry<T>> {
    for (let tries = 1; ; tries++) {
      const head = await this.#newestHead();
      const chain = { sequence: (head?.sequence ?? 0) + 1, previous: head?.sha256 ?? null };
      const parsed = this.#settings.schema.safeParse({ ...content, chain });
      if (!parsed.success) {
        const why = z.prettifyError(parsed.error);
        throw new RecordError(
          "INVALID_RECORD",
          "",
          `The ${this.#settings.what} would not be valid:\n${why}`,
          {
            cause: parsed.error,
          },
        );
      }
      const text = canonicalText(parsed.data);
      try {
        const path = join(this.#settings.folder, this.#file(chain.sequence).path);
        await writeOnce(text, this.#temp(), path, this.#disk);
      } catch (error) {
        const isTaken = error instanceof RecordError && error.code === "RECORD_EXISTS";
        if (!isTaken || tries >= MOST_TRIES) throw error;
        continue;
      }
      this.#head = { sequence: chain.sequence, sha256: sha256Hex(text) };
      return { ...this.#head, content: parsed.data, text };
    }
  }

  async #newestHead(): Promise<ChainHead | null> {
    if (this.#head === undefined) this.#head = await this.end();
    else this.#head = (await this.after(this.#head)).at(-1) ?? this.#head;
    return this.#head;
  }

  /** Makes the log's folder, and removes what a stopped process left half-written there. */
  async #makeFolder(): Promise<void> {
    if (this.#isMade) return;
    await makeFolders(this.#settings.folder, this.#settings.name, this.#disk);
    for (const name of await this.#disk.readdir(this.#path())) {
      const pid = PART_NAME.exec(name)?.[1];
      if (pid !== undefined && !isRunning(Number(pid))) {
        await this.#disk.unlink(join(this.#path(), name)).catch(() => undefined);
      }
    }
    this.#isMade = true;
  }

  /** In order of their numbers, which must have no gap. */
  async #files(): Promise<RecordFile[]> {
    const files: RecordFile[] = [];
    for (const name of await this.#names()) {
      const number = ENTRY_NAME.exec(name)?.[1];
      const isOwn =
        number !== undefined && this.#file(Number(number)).path === `${this.#settings.name}/${name}`;
      if (isOwn) files.push(this.#file(Number(number)));
      else if (name.endsWith(".json") && !name.startsWith(".")) {
        throw this.#corrupt(
          { path: `${this.#settings.name}/${name}` },
          `by its name it is no ${this.#settings.what}`,
        );
      }
    }
    files.sort((a, b) => a.sequence - b.sequence);
    const at = files.findIndex(({ sequence }, position) => sequence !== position + 1);
    const next = files[at];
    if (next) {
      throw this.#corrupt(next, `number ${at + 1}, which should come before it, is not there`);
    }
    return files;
  }

  async #names(): Promise<string[]> {
    try {
      return await this.#disk.readdir(this.#path());
    } catch (error) {
      // Nothing was ever written to it; whether there is a records folder at all shows elsewhere.
      if (errnoOf(error) === "ENOENT") return [];
      throw readError(error, this.#path(), `The folder ${this.#path()} can't be listed`);
    }
  }

  async #readFrom(files: readonly RecordFile[], after: ChainHead | null): Promise<LogEntry<T>[]> {
    const entries: LogEntry<T>[] = [];
    let head = after;
    for await (const batch of readInBatches(this.#settings.folder, files, this.#disk)) {
      for (const content of batch) {
        const entry = this.#entry(content, head);
        entries.push(entry);
        head = entry;
      }
    }
    return entries;
  }

  #entry({ file, bytes }: RecordContent, head: ChainHead | null): LogEntry<T> {
    const record = readRecord(bytes);
    if (!record.ok) throw this.#corrupt(file, record.problem);
    const problem = linkProblem(record.chain, head);
    if (problem !== null) throw this.#corrupt(file, problem);
    const parsed = this.#settings.schema.safeParse(record.content);
    if (!parsed.success) {
      throw this.#corrupt(file, `it is not a ${this.#settings.what} that this version of the program knows`);
    }
    const text = bytes.toString("utf8");
    return { sequence: file.sequence, sha256: record.sha256, content: parsed.data, text };
  }

  async #headOf(file: RecordFile): Promise<ChainHead> {
    const { bytes } = await readRecordFile(this.#settings.folder, file, this.#disk);
    return { sequence: file.sequence, sha256: sha256Hex(bytes) };
  }

  async #isThere(sequence: number): Promise<boolean> {
    const path = join(this.#settings.folder, this.#file(sequence).path);
    try {
      await this.#disk.access(path, "there");
      return true;
    } catch (error) {
      if (errnoOf(error) === "ENOENT") return false;
      throw readError(error, path, `The record ${path} can't be read`);
    }
  }

  /** Makes the names of what others wrote durable, too. */
  sync(): Promise<void> {
    return syncFolder(this.#path(), this.#disk);
  }

  #file(sequence: number): RecordFile {
    const number = String(sequence).padStart(NUMBER_DIGITS, "0");
    return { sequence, path: `${this.#settings.name}/${number}.json` };
  }

  #path(): string {
    return join(this.#settings.folder, this.#settings.name);
  }

  /** Not in use by anybody, on the same disk, and passed over by every listing. */
  #temp(): string {
    return join(this.#path(), `.${process.pid}-${randomUUID()}.part`);
  }

  #corrupt({ path }: Pick<RecordFile, "path">, why: string): RecordError {
    return notAsRecorded(join(this.#settings.folder, path), why);
  }
}

function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return errnoOf(error) === "EPERM";
  }
}
