import type { ChainHead } from "./chain.ts";
import type { LogEntry } from "./chained-log.ts";
import { decidedInFiles } from "./decided-files.ts";
import type { Disk } from "./disk.ts";
import type { Disposition } from "./disposition.ts";
import { counts } from "./doubts.ts";
import { type AttemptSummary, type IndexedAttempt, RecordIndex } from "./index-db.ts";
import { syncIndex } from "./index-sync.ts";
import { fileError, RecordError } from "./record-error.ts";

/** The recorded attempts, to be asked. */
export type AttemptRecords = Pick<
  RecordIndex,
  "history" | "since" | "after" | "between" | "newestOf" | "pieces" | "lastUnits" | "firstTests"
>;

/**
 * Every recorded attempt of a folder: the index, and what it would not take yet. A traveller counts without it: an index that
 * fails is tried again, and made anew from the files when it is asked.
 */
export class IndexedAttempts {
  readonly #folder: string;
  readonly #disk: Disk;
  readonly #index: RecordIndex;
  /** On disk, but not in the index yet. */
  #waiting: IndexedAttempt[] = [];
  #decidedWaiting: readonly LogEntry<Disposition>[] = [];

  constructor(folder: string, disk: Disk) {
    this.#folder = folder;
    this.#disk = disk;
    this.#index = RecordIndex.open(folder, disk);
  }

  /**
   * Brings the index up to the files.
   * @returns the chain's end
   * @throws RecordError as `syncIndex`
   */
  async sync(): Promise<ChainHead | null> {
    try {
      return await syncIndex(this.#folder, this.#index, { disk: this.#disk });
    } catch (error) {
      if (error instanceof RecordError) throw error;
      // It opened, but can't be read or written further on.
      this.#index.startAnew();
      return syncIndex(this.#folder, this.#index, { disk: this.#disk });
    }
  }

  add(attempt: IndexedAttempt): void {
    this.#waiting.push(attempt);
    try {
      this.#index.add(this.#waiting);
      this.#waiting = [];
    } catch {
      // The next question and the next start both bring the index up to the files.
    }
  }

  /** @throws RecordError when neither the index nor the files can be read, or as the question does */
  async ask<T>(question: (records: AttemptRecords) => T): Promise<T> {
    try {
      return question(this.#withWaiting());
    } catch (refusal) {
      if (refusal instanceof RecordError) throw refusal;
      try {
        this.#index.startAnew();
        await syncIndex(this.#folder, this.#index, { disk: this.#disk });
        this.#waiting = [];
        await this.#fillDecided();
        return question(this.#withWaiting());
      } catch (error) {
        throw fileError(error, this.#folder, `The index of ${this.#folder} can't be made anew`);
      }
    }
  }

  hasId(id: string): boolean {
    return this.#index.byId(id) !== undefined;
  }

  /** @returns where the traveller with this number lies, as far as the index knows; null where it knows none */
  pathOf(sequence: number): string | null {
    return this.#index.bySequence(sequence)?.path ?? null;
  }

  /** @returns the newest record of a log that was there when somebody last looked; null where nobody knows */
  headOf(log: string): ChainHead | null {
    try {
      return this.#index.headOf(log);
    } catch {
      return null;
    }
  }

  /** Known later than it might be where the index can't be written. */
  keepHead(log: string, head: ChainHead): void {
    try {
      this.#index.keepHead(log, head);
    } catch {
      // Only a deleted end of the log would go unnoticed.
    }
  }

  /** @returns the newest disposition that was there when the station last looked; null where nobody knows */
  decidedEnd(): ChainHead | null {
    try {
      return this.#index.decided.end();
    } catch {
      return null;
    }
  }

  /** Read, checked and durable, in their order. Where the index can't be written, readers read the files. */
  addDecided(entries: readonly LogEntry<Disposition>[]): void {
    this.#decidedWaiting = [...this.#decidedWaiting, ...entries];
    try {
      // What does not follow comes in at the next start, with all before it.
      this.#index.decided.add(this.#decidedWaiting);
      this.#decidedWaiting = [];
    } catch {
      // With the next ones, or at the next start.
    }
  }

  /** @param entries the whole log, as `addDecided` */
  putDecidedRight(entries: readonly LogEntry<Disposition>[]): void {
    this.#decidedWaiting = [];
    try {
      this.#index.decided.putRight(entries);
    } catch {
      // The next start does it; until then readers read the files.
    }
  }

  close(): void {
    this.#index.close();
  }

  /** Of an index that was made anew meanwhile. */
  async #fillDecided(): Promise<void> {
    try {
      this.#index.decided.putRight(await decidedInFiles(this.#folder, this.#disk));
      this.#decidedWaiting = [];
    } catch {
      // Tests are recorded all the same; readers read the files, and the next start says what is wrong with them.
    }
  }

  #withWaiting(): AttemptRecords {
    const [index, waiting] = [this.#index, this.#waiting];
    if (waiting.length === 0) return index;
    return {
      history: (serial) => [...index.history(serial), ...waiting.filter((it) => it.serial === serial)],
      since: (at_ms) => [
        ...index.since(at_ms),
        ...waiting.filter((it) => Date.parse(it.ended_at ?? it.started_at) >= at_ms),
      ],
      after: (sequence) => [...index.after(sequence), ...waiting.filter((it) => it.sequence > sequence)],
      between: (model, after, before) => [
        ...index.between(model, after, before),
        ...waiting.filter(
          (it) =>
            it.recordKind === "unit" && it.model === model && it.sequence > after && it.sequence < before,
        ),
      ],
      newestOf: (model) =>
        waiting.filter((it) => it.model === model && !it.draft && it.ended_at !== null).at(-1) ??
        index.newestOf(model),
      pieces: () => [
        ...new Set([
          ...index.pieces(),
          ...waiting.filter((it) => it.recordKind === "reference").map(({ serial }) => serial),
        ]),
      ],
      // For early warning: what waits is found with the next unit.
      firstTests: (range) => index.firstTests(range),
      lastUnits: (count) => {
        const newest = new Map<string, AttemptSummary>();
        const waitingUnits = waiting.filter((it) => counts(it) && it.verdict !== "void").reverse();
        for (const one of [...waitingUnits, ...index.lastUnits(count)]) {
          if (newest.size < count && !newest.has(one.serial)) newest.set(one.serial, one);
        }
        return [...newest.values()];
      },
    };
  }
}
