import { dirname, join } from "node:path";
import { z } from "zod";
import type { Clock } from "../../drivers/ports.ts";
import { intentFor, interruptedOutcome } from "./attempt-intent.ts";
import { type ChainHead, canonicalText, sha256Hex } from "./chain.ts";
import type { ChainEnds } from "./daily-head.ts";
import { Decisions } from "./decisions.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import type { Disposition, DispositionDraft } from "./disposition.ts";
import type { Doubts } from "./doubts.ts";
import { makeFolders, makeWritableFolder } from "./durable-file.ts";
import { type FirstTest, type FirstTestsRange, type TestsWindow, testsWindow } from "./first-tests.ts";
import { FolderLock } from "./folder-lock.ts";
import type { AttemptSummary } from "./index-db.ts";
import { indexedAttempt } from "./indexed-attempt.ts";
import { type AttemptRecords, IndexedAttempts } from "./indexed-attempts.ts";
import { OpenAttempts } from "./open-attempts.ts";
import { fileError, RecordError } from "./record-error.ts";
import { OPEN_FOLDER, travellerPath } from "./record-name.ts";
import type { StationEvent, StationEventDraft } from "./station-event.ts";
import { StationLogs } from "./station-logs.ts";
import { AttemptFacts, type AttemptOutcome, Traveller } from "./traveller.ts";
import { TRAVELLER_FORMAT } from "./traveller-rules.ts";

export interface RecordStoreOptions {
  /** Made if it is not there. */
  readonly folder: string;
  /** Its wall time says when an interrupted attempt was found. */
  readonly clock: Clock;
  /** The station's name, for the refusal another station on the same folder gets. */
  readonly station: string;
  /**
   * Asked once the records are known and before anything is written: throws where they are not all that somebody knows of.
   * @param travellerPath where the traveller with a number lies, relative to the folder; null where there is none
   */
  readonly requireComplete?: (travellerPath: (sequence: number) => string | null) => Promise<void>;
  /** Where the folder lies; the machine's own disk when not given. */
  readonly disk?: Disk;
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
  readonly #disk: Disk;
  readonly #lock: FolderLock;
  readonly #attempts: IndexedAttempts;
  readonly #open: OpenAttempts;
  readonly #logs: StationLogs;
  readonly #decisions: Decisions;
  #head: ChainHead | null = null;
  /** The day's folder that is known to be there. */
  #today = "";
  #broken: RecordError | undefined;
  #tail: Promise<unknown> = Promise.resolve();

  private constructor(options: RecordStoreOptions, disk: Disk, lock: FolderLock, attempts: IndexedAttempts) {
    this.folder = options.folder;
    this.#disk = disk;
    this.#clock = options.clock;
    this.#lock = lock;
    this.#attempts = attempts;
    this.#open = new OpenAttempts(options.folder, disk);
    this.#logs = new StationLogs(options.folder, attempts, disk);
    this.#decisions = new Decisions(attempts, this.#logs, options.clock);
  }

  /**
   * Takes the folder, checks the chains' ends against the index, all dispositions link by link, and makes every attempt that was begun and never
   * recorded a void one.
   * @returns the store, and the travellers of the attempts that were found interrupted
   * @throws RecordError
   */
  static async open(
    options: RecordStoreOptions,
  ): Promise<{ readonly store: RecordStore; readonly interrupted: readonly Recorded[] }> {
    const { folder, clock, station, disk = REAL_DISK } = options;
    await makeWritableFolder(folder, join(folder, OPEN_FOLDER), disk);
    const lock = FolderLock.acquire({ folder, station, since_ms: clock.wall_ms(), disk });
    let attempts: IndexedAttempts | undefined;
    try {
      attempts = new IndexedAttempts(folder, disk);
      const store = new RecordStore(options, disk, lock, attempts);
      await store.#open.proveWritable();
      store.#head = await attempts.sync();
      await store.#logs.check();
      await options.requireComplete?.((sequence) => store.#attempts.pathOf(sequence));
      await store.#open.read((id) => store.#attempts.hasId(id));
      return { store, interrupted: await store.voidOpenAttempts() };
    } catch (error) {
      attempts?.close();
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
      const recorded = await this.#attempts.ask((records) => records.history(facts.serial));
      this.#open.requireFree(facts, recorded);
      const intent = intentFor(valid(AttemptFacts.safeParse(facts)));
      await this.#open.begin(intent);
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
      for (const { id, facts } of this.#open.all()) {
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
    return this.#ask((records) => records.history(serial));
  }

  /**
   * @returns what ended at this time or later, references and drafts included, in the order of recording
   * @throws RecordError as `history`
   */
  attemptsSince(at_ms: number): Promise<readonly AttemptSummary[]> {
    return this.#ask((records) => records.since(at_ms));
  }

  /**
   * @returns what was recorded after the traveller with this number, references and drafts included, in that order
   * @throws RecordError as `history`
   */
  attemptsAfter(sequence: number): Promise<readonly AttemptSummary[]> {
    return this.#ask((records) => records.after(sequence));
  }

  /**
   * @returns the newest valid attempt of each of the units that had one last, newest first; drafts and references left out
   * @throws RecordError as `history`
   */
  lastUnits(count: number): Promise<readonly AttemptSummary[]> {
    return this.#ask((records) => records.lastUnits(count));
  }

  /**
   * @returns first valid tests of a model's units, in the order of recording; what is held is among them
   * @throws RecordError as `history`
   */
  firstTests(range: FirstTestsRange): Promise<readonly FirstTest[]> {
    return this.#ask((records) => records.firstTests(range));
  }

  /**
   * @returns a model's newest first tests, see `testsWindow`
   * @throws RecordError as `history`
   */
  firstTestsWindow(model: string): Promise<TestsWindow> {
    const last = this.#head?.sequence ?? 0;
    return this.#ask((records) => testsWindow((range) => records.firstTests(range), model, last));
  }

  /**
   * @returns the newest attempt of a model, void ones and references too, drafts left out; null for none
   * @throws RecordError as `history`
   */
  newestOf(model: string): Promise<AttemptSummary | null> {
    return this.#ask((records) => records.newestOf(model) ?? null);
  }

  /**
   * @returns what was decided about a unit, by whatever program, in the order of recording
   * @throws RecordError CORRUPT when a disposition was changed, or can't be read
   */
  dispositionsOf(serial: string): Promise<readonly Disposition[]> {
    return this.#decisions.of(serial);
  }

  /**
   * Records durably what was decided about units.
   * @throws RecordError INVALID_RECORD when a unit's traveller is not in the records or does not count, DISK_FULL ...;
   * nothing was recorded then
   */
  dispose(draft: DispositionDraft): Promise<Disposition> {
    return this.#inTurn(() => this.#decisions.dispose(draft));
  }

  /**
   * Holds what failed reference checks put in doubt, whichever piece failed and whether or not it is still in use; see `Decisions`.
   * @returns the holds that were made now
   * @throws RecordError; holds not made then are made at the next call
   */
  ensureHolds(): Promise<readonly Disposition[]> {
    return this.#inTurn(() => this.#decisions.ensureHolds());
  }

  /**
   * @returns which travellers holds have taken the trust from; the same object as before where nothing changed
   * @throws RecordError as `dispositionsOf`
   */
  inDoubt(): Promise<Doubts> {
    return this.#inTurn(() => this.#decisions.inDoubt());
  }

  /**
   * Records durably what happened to the station. A traveller's commit does not wait for it.
   * @throws RecordError; nothing was recorded then
   */
  note(event: StationEventDraft): Promise<StationEvent> {
    if (this.#broken) return Promise.reject(this.#broken);
    return this.#logs.note(event, {
      at_ms: this.#clock.wall_ms(),
      afterTraveller: this.#head?.sequence ?? 0,
    });
  }

  /**
   * @returns what happened at this time or later, in the order of recording
   * @throws RecordError CORRUPT when one of these events was changed, or can't be read
   */
  async eventsSince(at_ms: number): Promise<readonly StationEvent[]> {
    const [first] = await this.attemptsSince(at_ms);
    return this.#logs.eventsSince(at_ms, first?.sequence ?? Number.POSITIVE_INFINITY);
  }

  /**
   * @returns what happened once the traveller with this number was recorded, in the order of recording, whatever the clock said
   * @throws RecordError as `eventsSince`
   */
  eventsAfter(sequence: number): Promise<readonly StationEvent[]> {
    return this.#logs.eventsAfter(sequence);
  }

  /**
   * Where each chain ends now; all of it is on the disk.
   * @throws RecordError
   */
  ends(): Promise<ChainEnds> {
    return this.#inTurn(async () => ({ travellers: this.#head, ...(await this.#logs.ends()) }));
  }

  /** @returns bytes the station's user may still write on the folder's disk */
  async freeBytes(): Promise<number> {
    try {
      return await this.#disk.freeBytes(this.folder);
    } catch (error) {
      throw fileError(error, this.folder, `The free space of ${this.folder} can't be read`);
    }
  }

  /** Waits for what is under way and gives the folder back. Attempts still open become void at the next start. */
  async close(): Promise<void> {
    await this.#tail;
    await this.#logs.settled();
    this.#broken ??= new RecordError(
      "NOT_OPEN",
      this.folder,
      `The records folder ${this.folder} was closed.`,
    );
    try {
      this.#attempts.close();
    } finally {
      this.#lock.release();
    }
  }

  async #commit(id: string, outcome: AttemptOutcome): Promise<Recorded> {
    const facts = this.#open.factsOf(id);
    const sequence = (this.#head?.sequence ?? 0) + 1;
    const traveller = valid(
      Traveller.safeParse({
        format: TRAVELLER_FORMAT,
        id,
        ...facts,
        ...outcome,
        ...(facts.reference || outcome.reference
          ? { reference: { ...facts.reference, ...outcome.reference } }
          : {}),
        chain: { sequence, previous: this.#head?.sha256 ?? null },
      }),
    );
    const text = canonicalText(traveller);
    const sha256 = sha256Hex(text);
    const path = travellerPath({ ...traveller, sequence, attempt: traveller.attempt.number });
    await this.#makeDayFolder(dirname(path));
    await this.#open.writeOnce(text, join(this.folder, path));
    this.#head = { sequence, sha256 };
    const removed = this.#open.end(id);
    this.#attempts.add(indexedAttempt(traveller, sha256, path));
    this.#decisions.tested(traveller.serial);
    await removed;
    return { path: join(this.folder, path), sha256, traveller };
  }

  #ask<T>(question: (records: AttemptRecords) => T): Promise<T> {
    return this.#inTurn(() => this.#attempts.ask(question));
  }

  async #makeDayFolder(day: string): Promise<void> {
    if (day === this.#today) return;
    try {
      // An unplugged disk leaves an empty folder where it was mounted: nothing is to be made in that.
      await this.#disk.access(join(this.folder, OPEN_FOLDER), "there");
      await makeFolders(this.folder, day, this.#disk);
    } catch (error) {
      throw fileError(error, this.folder, `The folder ${join(this.folder, day)} could not be made`);
    }
    this.#today = day;
  }

  /** One at a time, in the order asked: each traveller needs the hash of the one before. */
  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.#tail.then(async () => {
      if (this.#broken) throw this.#broken;
      try {
        return await work();
      } catch (error) {
        // Whatever failed may have taken it away.
        this.#today = "";
        const failure = fileError(error, this.folder, `The records in ${this.folder} could not be used`);
        if (failure.code === "IN_DOUBT") this.#broken = failure;
        throw failure;
      }
    });
    this.#tail = turn.catch(() => undefined);
    return turn;
  }
}

function valid<T>(parsed: { success: true; data: T } | { success: false; error: z.ZodError }): T {
  if (parsed.success) return parsed.data;
  const why = z.prettifyError(parsed.error);
  throw new RecordError("INVALID_RECORD", "", `The record would not be valid:\n${why}`, {
    cause: parsed.error,
  });
}
