import { readdir, rename, rmdir, stat, unlink, writeFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import type { Clock } from "../../drivers/ports.ts";
import type { PreparedAttempt } from "../cycle/attempt.ts";
import { makeFolders } from "../records/durable-file.ts";
import type { Recorded } from "../records/store.ts";
import type { FlightRecorder, RawTape } from "./flight-recorder.ts";
import { type FilesForTapes, preparedFacts } from "./tape-contents.ts";
import { packTape } from "./tape-file.ts";
import { TAPES_FOLDER, tapePath } from "./tape-path.ts";

/** Their folder in the records folder. */
const TAPE_NAME = /^\d{8,15}-[A-Za-z0-9._-]+\.tape$/;
const DAY_MS = 86_400_000;
/** Removed after each attempt at most, so that a station whose allowance was cut does not stop to tidy up. */
const PRUNED_AT_ONCE = 50;
/** Waiting to be written; a disk that takes longer loses tapes, not units. */
const WAITING_MOST = 8;

/** How long tapes are kept. */
export interface TapeAllowance {
  readonly keep_days: number;
  readonly keep_bytes: number;
}

export interface TapeKeeperParts {
  readonly recordsFolder: string;
  readonly allowance: TapeAllowance;
  /** Tapes are not written where that leaves less than this on the disk: travellers come first. */
  readonly leastFreeDisk_bytes: number;
  readonly freeBytes: () => Promise<number>;
  readonly clock: Pick<Clock, "wall_ms">;
  readonly files: FilesForTapes;
  /** Told once when tapes can't be kept, and again only after one could. */
  readonly warn: (sentence: string) => void;
  /** Lets virtual time stand still meanwhile; in real time it only waits. */
  readonly held: <T>(work: () => Promise<T>) => Promise<T>;
}

/** The station's flight recorder and who keeps its tapes. */
export interface Flight {
  readonly recorder: FlightRecorder;
  readonly keeper: Pick<TapeKeeper, "keep" | "missed" | "close">;
}

/**
 * Keeps tapes below the records folder and removes the oldest, by days and by bytes. Nothing waits for it and nothing
 * fails by it: a tape that can't be kept is told of, and production goes on.
 */
export class TapeKeeper {
  readonly #parts: TapeKeeperParts;
  /** Bytes of tapes by day, "2026/01/05"; null until they have been counted. */
  #days: Map<string, number> | null = null;
  #tail: Promise<void> = Promise.resolve();
  #waiting = 0;
  #isFailing = false;
  #isClosing = false;

  constructor(parts: TapeKeeperParts) {
    this.#parts = parts;
  }

  /** Counts what is there, and removes what is beyond the allowance. */
  start(): void {
    this.#inTurn(() => this.#prune());
  }

  /** Once the attempt's traveller is on disk. */
  keep(tape: RawTape, attempt: PreparedAttempt, recorded: Recorded): void {
    if (this.#waiting >= WAITING_MOST) {
      this.#failed("the disk takes them too slowly");
      return;
    }
    this.#inTurn(async () => {
      await this.#write(tape, attempt, recorded);
      this.#isFailing = false;
      await this.#prune();
    });
  }

  /** An attempt has no tape, and why. */
  missed(why: string): void {
    this.#failed(why);
  }

  /** Resolves when nothing waits to be written. */
  async settled(): Promise<void> {
    await this.#tail;
  }

  /** The program ends: what is being written is, and what waits is left out. */
  async close(): Promise<void> {
    this.#isClosing = true;
    await this.#tail;
  }

  #inTurn(work: () => Promise<void>): void {
    const isFirst = this.#waiting++ === 0;
    this.#tail = this.#tail
      .then(() => (this.#isClosing && !isFirst ? undefined : this.#parts.held(work)))
      .catch((error: unknown) => this.#failed(error instanceof Error ? error.message : String(error)))
      .finally(() => {
        this.#waiting--;
      });
  }

  #failed(why: string): void {
    if (this.#isFailing) return;
    this.#isFailing = true;
    const folder = join(this.#parts.recordsFolder, TAPES_FOLDER);
    this.#parts.warn(
      `The raw conversations of attempts can't be kept in ${folder} (${why}); travellers are not concerned, and testing goes on. Check that disk, or switch flight_recorder off in the station file.`,
    );
  }

  async #write(raw: RawTape, attempt: PreparedAttempt, { traveller, sha256 }: Recorded): Promise<void> {
    const { recordsFolder, files, freeBytes, leastFreeDisk_bytes } = this.#parts;
    const bytes = await packTape({
      instruments: raw.instruments,
      attempt: preparedFacts(attempt),
      atStart: raw.atStart,
      files: files.of(attempt),
      traveller: { ...traveller },
      sha256,
      isCut: raw.isCut,
      preamble: raw.preamble,
      events: raw.events,
    });
    if ((await freeBytes()) - bytes.length < leastFreeDisk_bytes) {
      throw new Error("the disk is nearly full, and travellers go first");
    }
    const days = await this.#counted();
    const { sequence } = traveller.chain;
    const path = tapePath({ ...traveller, sequence, attempt: traveller.attempt.number });
    await makeFolders(recordsFolder, dirname(path));
    const temp = join(recordsFolder, dirname(path), `.${sequence}.part`);
    await writeFile(temp, bytes);
    await rename(temp, join(recordsFolder, path));
    const day = dayOf(path);
    days.set(day, (days.get(day) ?? 0) + bytes.length);
  }

  async #prune(): Promise<void> {
    const days = await this.#counted();
    const { keep_days, keep_bytes } = this.#parts.allowance;
    const oldestKept = dayAt(this.#parts.clock.wall_ms() - keep_days * DAY_MS);
    let left = PRUNED_AT_ONCE;
    for (const day of [...days.keys()].sort()) {
      if (left === 0) return;
      const isTooOld = day < oldestKept;
      const isBeyond = () => [...days.values()].reduce((sum, bytes) => sum + bytes, 0) > keep_bytes;
      if (!isTooOld && !isBeyond()) return;
      left = await this.#removeOldest(day, left, () => isTooOld || isBeyond());
    }
  }

  /** @returns how many more may be removed now */
  async #removeOldest(day: string, most: number, mustGo: () => boolean): Promise<number> {
    const days = await this.#counted();
    const folder = join(this.#parts.recordsFolder, TAPES_FOLDER, day);
    let left = most;
    const names = await tapeNames(folder);
    for (const name of names) {
      if (left === 0 || !mustGo()) return left;
      const path = join(folder, name);
      const { size } = await stat(path);
      await unlink(path);
      days.set(day, Math.max(0, (days.get(day) ?? 0) - size));
      left--;
    }
    days.delete(day);
    await removeIfEmpty(folder);
    await removeIfEmpty(dirname(folder));
    await removeIfEmpty(dirname(dirname(folder)));
    return left;
  }

  async #counted(): Promise<Map<string, number>> {
    if (this.#days) return this.#days;
    const root = join(this.#parts.recordsFolder, TAPES_FOLDER);
    const days = new Map<string, number>();
    for (const year of await foldersLike(root, /^\d{4}$/)) {
      for (const month of await foldersLike(join(root, year), /^\d{2}$/)) {
        for (const day of await foldersLike(join(root, year, month), /^\d{2}$/)) {
          const folder = join(root, year, month, day);
          let sum = 0;
          for (const name of await tapeNames(folder)) sum += (await stat(join(folder, name))).size;
          days.set(`${year}/${month}/${day}`, sum);
        }
      }
    }
    this.#days = days;
    return days;
  }
}

async function tapeNames(folder: string): Promise<readonly string[]> {
  return (await listed(folder)).filter((name) => TAPE_NAME.test(name)).sort();
}

async function foldersLike(folder: string, pattern: RegExp): Promise<readonly string[]> {
  return (await listed(folder)).filter((name) => pattern.test(name)).sort();
}

/** A folder that is not there has nothing in it. */
async function listed(folder: string): Promise<readonly string[]> {
  try {
    return await readdir(folder);
  } catch (error) {
    if (error instanceof Error && "code" in error && error.code === "ENOENT") return [];
    throw error;
  }
}

/** Whatever else lies in it stays, and so does the folder. */
async function removeIfEmpty(folder: string): Promise<void> {
  await rmdir(folder).catch(() => undefined);
}

/** @example dayOf("flight/2026/01/05/00000042-A1-1.tape") // "2026/01/05" */
function dayOf(path: string): string {
  return dirname(path).slice(TAPES_FOLDER.length + 1);
}

/** @returns the UTC day as folders have it: "2026/01/05" */
function dayAt(wall_ms: number): string {
  return new Date(wall_ms).toISOString().slice(0, "2026-01-05".length).replaceAll("-", "/");
}
