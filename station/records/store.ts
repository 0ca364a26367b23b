import { readdir, statfs, unlink } from "node:fs/promises";
import { dirname, join } from "node:path";
import { z } from "zod";
import type { Clock } from "../../drivers/ports.ts";
import { intentFor, interruptedOutcome, readIntent } from "./attempt-intent.ts";
import { type ChainHead, canonicalText, sha256Hex } from "./chain.ts";
import type { Disposition, DispositionDraft } from "./disposition.ts";
import type { Doubts } from "./doubts.ts";
import { makeFolders, makeWritableFolder, unlinkIfThere, writeOnce } from "./durable-file.ts";
import { FolderLock } from "./folder-lock.ts";
import { type AttemptSummary, RecordIndex, summaryOf } from "./index-db.ts";
import { syncIndex } from "./index-sync.ts";
import { fileError, RecordError } from "./record-error.ts";
import { OPEN_FOLDER, safeSerial, travellerPath } from "./record-name.ts";
import type { StationEvent, StationEventDraft } from "./station-event.ts";
import { AttemptFacts, type AttemptOutcome, TRAVELLER_FORMAT, Traveller } from "./traveller.ts";

export interface RecordStoreOptions {
  /** Made if it is not there. */
  readonly folder: string;
  /** Its wall time says when an interrupted attempt was found. */
  readonly clock: Clock;
  /** The station's name, for the refusal another station on the same folder gets. */
  readonly station: string;
}

/** A traveller that is on the disk. */
export interface Recorded {
  /** The file, with the records folder as given. */
  readonly path: string;
  readonly sha256: string;
  readonly traveller: Traveller;
}

/** An attempt that was begun and has no traveller yet. */
export interface OpenAttempt {
  readonly id: string;
  readonly facts: AttemptFacts;
}

/**
 * The records of one station: every attempt is begun durably, and ends in exactly one traveller, written once and
 * chained to the one before. One store per folder at a time. Everything it throws is a RecordError, after which
 * nothing was recorded.
 */
export class RecordStore {
  readonly folder: string;
  readonly #clock: Clock;
  readonly #lock: FolderLock;
  readonly #index: RecordIndex;
  /** Begun and without a traveller, by id, with the intent's file. */
  readonly #open = new Map<string, { readonly facts: AttemptFacts; readonly path: string }>();
  /** On disk, but not in the index yet. */
  #unindexed: AttemptSummary[] = [];
  #head: ChainHead | null = null;
  /** The day's folder that is known to be there. */
  #today = "";
  #temps = 0;
  #broken: RecordError | undefined;
  #tail: Promise<unknown> = Promise.resolve();

  private constructor(options: RecordStoreOptions, lock: FolderLock, index: RecordIndex) {
    this.folder = options.folder;
    this.#clock = options.clock;
    this.#lock = lock;
    this.#index = index;
  }

  /**
   * Takes the folder, checks the chain's end against the index, and makes every attempt that was begun and never
   * recorded a void one.
   * @returns the store, and the travellers of the attempts that were found interrupted
   * @throws RecordError
   */
  static async open(
    options: RecordStoreOptions,
  ): Promise<{ readonly store: RecordStore; readonly interrupted: readonly Recorded[] }> {
    const { folder, clock, station } = options;
    await makeWritableFolder(folder, join(folder, OPEN_FOLDER));
    const lock = FolderLock.acquire({ folder, station, since_ms: clock.wall_ms() });
    let index: RecordIndex | undefined;
    try {
      index = RecordIndex.open(folder);
      const store = new RecordStore(options, lock, index);
      await store.#proveWritable();
      store.#head = await syncedHead(folder, index);
      await store.#readOpenAttempts();
      return { store, interrupted: await store.voidOpenAttempts() };
    } catch (error) {
      index?.close();
      lock.release();
      throw fileError(error, folder, `The records folder ${folder} can't be opened`);
    }
  }

  /**
   * Notes durably that an attempt starts. Whatever happens from here on, it will have a traveller.
   * @throws RecordError ATTEMPT_TAKEN, INVALID_RECORD, DISK_FULL ...
   */
  begin(facts: AttemptFacts): Promise<OpenAttempt> {
    return this.#inTurn(async () => {
      await this.#requireFree(facts);
      const intent = intentFor(valid(AttemptFacts.safeParse(facts)));
      const name = `${safeSerial(facts.serial)}-${facts.attempt.number}-${intent.id}.json`;
      const path = join(this.folder, OPEN_FOLDER, name);
      await this.#writeOnce(canonicalText(intent), path);
      this.#open.set(intent.id, { facts: intent.facts, path });
      return { id: intent.id, facts: intent.facts };
    });
  }

  /**
   * Records how an attempt ended. On return its traveller is on the disk and may be shown. After a failure the
   * attempt is still open: commit it again, or it becomes void at the next start or `voidOpenAttempts`.
   * @throws RecordError NOT_OPEN, INVALID_RECORD, DISK_FULL, FOLDER_GONE, RECORD_EXISTS, IN_DOUBT ...
   */
  commit(attempt: OpenAttempt, outcome: AttemptOutcome): Promise<Recorded> {
    return this.#inTurn(() => this.#commit(attempt.id, outcome));
  }

  /**
   * Ends every attempt that is still open as `void: INTERRUPTED`; for starting again after a fault.
   * @throws RecordError as `commit`
   */
  voidOpenAttempts(): Promise<readonly Recorded[]> {
    return this.#inTurn(async () => {
      const recorded: Recorded[] = [];
      for (const [id, { facts }] of this.#open) {
        const found_at = new Date(this.#clock.wall_ms()).toISOString();
        recorded.push(await this.#commit(id, interruptedOutcome(facts, found_at)));
      }
      return recorded;
    });
  }

  /**
   * @returns every recorded attempt of a serial, references and drafts included, in order of the attempt number
   * @throws RecordError when neither the index nor the files can be read
   */
  history(serial: string): Promise<readonly AttemptSummary[]> {
    return this.#inTurn(async () => {
      const indexed = await this.#fromIndex((index) => index.history(serial));
      const waiting = this.#unindexed.filter((attempt) => attempt.serial === serial);
      return [...indexed, ...waiting].sort((a, b) => a.attempt - b.attempt);
    });
  }

  /**
   * @returns what ended at this time or later, references and drafts included, in the order of recording
   * @throws RecordError as `history`
   */
  attemptsSince(at_ms: number): Promise<readonly AttemptSummary[]> {
    return this.#inTurn(async () => {
      const indexed = await this.#fromIndex((index) => index.since(at_ms));
      const waiting = this.#unindexed.filter(
        ({ ended_at, started_at }) => Date.parse(ended_at ?? started_at) >= at_ms,
      );
      return [...indexed, ...waiting];
    });
  }

  /** @returns the newest attempt of each of the units tested last, newest first; drafts and references left out */
  lastUnits(_count: number): Promise<readonly AttemptSummary[]> {
    throw new Error("Being written.");
  }

  /** @returns what was decided about a unit, in the order in which it was recorded */
  dispositionsOf(_serial: string): Promise<readonly Disposition[]> {
    throw new Error("Being written.");
  }

  /** Records durably what was decided about units. @throws RecordError; nothing was recorded then */
  dispose(_draft: DispositionDraft): Promise<Disposition> {
    throw new Error("Being written.");
  }

  /** @returns the holds that were made now */
  ensureHolds(
    _pieces: readonly { readonly serial: string; readonly model: string }[],
  ): Promise<readonly Disposition[]> {
    throw new Error("Being written.");
  }

  inDoubt(): Promise<Doubts> {
    throw new Error("Being written.");
  }

  /** Records durably what happened to the station. */
  note(_event: StationEventDraft): Promise<StationEvent> {
    throw new Error("Being written.");
  }

  /** @returns what happened at this time or later, in the order of recording */
  eventsSince(_at_ms: number): Promise<readonly StationEvent[]> {
    throw new Error("Being written.");
  }

  /** @returns bytes the station's user may still write on the folder's disk */
  async freeBytes(): Promise<number> {
    try {
      const { bavail, bsize } = await statfs(this.folder);
      return bavail * bsize;
    } catch (error) {
      throw fileError(error, this.folder, `The free space of ${this.folder} can't be read`);
    }
  }

  /** Waits for what is under way and gives the folder back. Attempts still open become void at the next start. */
  async close(): Promise<void> {
    await this.#tail;
    this.#broken ??= new RecordError(
      "NOT_OPEN",
      this.folder,
      `The records folder ${this.folder} was closed.`,
    );
    this.#index.close();
    this.#lock.release();
  }

  async #commit(id: string, outcome: AttemptOutcome): Promise<Recorded> {
    const open = this.#open.get(id);
    if (open === undefined) {
      throw new RecordError(
        "NOT_OPEN",
        "",
        `Attempt ${id} was not begun here, or has its traveller already.`,
      );
    }
    const sequence = (this.#head?.sequence ?? 0) + 1;
    const traveller = valid(
      Traveller.safeParse({
        format: TRAVELLER_FORMAT,
        id,
        ...open.facts,
        ...outcome,
        ...(open.facts.reference || outcome.reference
          ? { reference: { ...open.facts.reference, ...outcome.reference } }
          : {}),
        chain: { sequence, previous: this.#head?.sha256 ?? null },
      }),
    );
    const text = canonicalText(traveller);
    const sha256 = sha256Hex(text);
    const path = travellerPath({ ...traveller, sequence, attempt: traveller.attempt.number });
    await this.#makeDayFolder(dirname(path));
    await this.#writeOnce(text, join(this.folder, path));
    this.#head = { sequence, sha256 };
    this.#open.delete(id);
    // Not synced: should a power cut bring the intent back, the next start finds its traveller and drops it.
    const removed = unlinkIfThere(open.path);
    this.#unindexed.push(summaryOf(traveller, sha256, path));
    this.#catchUp();
    await removed;
    return { path: join(this.folder, path), sha256, traveller };
  }

  /** The traveller counts without it: an index that fails now is tried again with the next one. */
  #catchUp(): void {
    try {
      this.#index.add(this.#unindexed);
      this.#unindexed = [];
    } catch {
      // history() and the next start both bring the index up to the files.
    }
  }

  async #fromIndex<T>(query: (index: RecordIndex) => T): Promise<T> {
    try {
      return query(this.#index);
    } catch {
      try {
        this.#index.startAnew();
        await syncIndex(this.folder, this.#index);
        this.#unindexed = [];
        return query(this.#index);
      } catch (error) {
        throw fileError(error, this.folder, `The index of ${this.folder} can't be made anew`);
      }
    }
  }

  /** Removes what a stopped run left half-written, and proves that a file can be written durably. */
  async #proveWritable(): Promise<void> {
    const folder = join(this.folder, OPEN_FOLDER);
    for (const name of await readdir(folder)) {
      if (name.endsWith(".part")) await unlink(join(folder, name));
    }
    const probe = join(folder, `${this.#temps++}.probe.part`);
    await this.#writeOnce("This folder can be written to.", probe);
    await unlink(probe);
  }

  async #readOpenAttempts(): Promise<void> {
    const folder = join(this.folder, OPEN_FOLDER);
    for (const name of (await readdir(folder)).sort()) {
      if (!name.endsWith(".json")) continue;
      const path = join(folder, name);
      const { id, facts } = await readIntent(path);
      // Its traveller is on disk: only the removal was lost.
      if (this.#index.byId(id)) await unlink(path);
      else this.#open.set(id, { facts, path });
    }
  }

  async #requireFree({ serial, attempt }: AttemptFacts): Promise<void> {
    const open = [...this.#open.values()].map(({ facts }) => ({
      serial: facts.serial,
      attempt: facts.attempt.number,
    }));
    const indexed = await this.#fromIndex((index) => index.history(serial));
    const taken = [...open, ...this.#unindexed, ...indexed].some(
      (other) => other.serial === serial && other.attempt >= attempt.number,
    );
    if (!taken) return;
    throw new RecordError(
      "ATTEMPT_TAKEN",
      "",
      `Attempt ${attempt.number} of ${serial} is open or recorded already: scan the unit again.`,
    );
  }

  async #makeDayFolder(day: string): Promise<void> {
    if (day === this.#today) return;
    try {
      await makeFolders(this.folder, day);
    } catch (error) {
      throw fileError(error, this.folder, `The folder ${join(this.folder, day)} could not be made`);
    }
    this.#today = day;
  }

  #writeOnce(text: string, path: string): Promise<void> {
    return writeOnce(text, join(this.folder, OPEN_FOLDER, `${this.#temps++}.part`), path);
  }

  /** One at a time, in the order asked: each traveller needs the hash of the one before. */
  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.#tail.then(async () => {
      if (this.#broken) throw this.#broken;
      try {
        return await work();
      } catch (error) {
        const failure = fileError(error, this.folder, `The records in ${this.folder} could not be used`);
        if (failure.code === "IN_DOUBT") this.#broken = failure;
        throw failure;
      }
    });
    this.#tail = turn.catch(() => undefined);
    return turn;
  }
}

async function syncedHead(folder: string, index: RecordIndex): Promise<ChainHead | null> {
  try {
    return await syncIndex(folder, index);
  } catch (error) {
    if (error instanceof RecordError) throw error;
    // It opened, but can't be read or written further on.
    index.startAnew();
    return syncIndex(folder, index);
  }
}

function valid<T>(parsed: { success: true; data: T } | { success: false; error: z.ZodError }): T {
  if (parsed.success) return parsed.data;
  const why = z.prettifyError(parsed.error);
  throw new RecordError("INVALID_RECORD", "", `The record would not be valid:\n${why}`, {
    cause: parsed.error,
  });
}
