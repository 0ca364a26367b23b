import type { Clock } from "../drivers/ports.ts";
import type { DailyHeadSettings } from "./daily-head-settings.ts";
import type { ChainHead } from "./records/chain.ts";
import type { DailyHead } from "./records/daily-head.ts";
import { requireCopies, requireNewestHead } from "./records/daily-head-check.ts";
import { requireNothingSince } from "./records/daily-head-closed.ts";
import { copyHeads } from "./records/daily-head-copies.ts";
import { openStationKey, type StationKey } from "./records/daily-head-key.ts";
import { DailyHeadLog, type WrittenHead } from "./records/daily-head-log.ts";
import type { Disk } from "./records/disk.ts";
import { logFile } from "./records/numbered-log.ts";
import { RecordError } from "./records/record-error.ts";
import type { RecordStore } from "./records/store.ts";

export interface DailyHeadsParts {
  readonly settings: DailyHeadSettings;
  readonly recordsFolder: string;
  readonly station: string;
  readonly clock: Clock;
  /** Where the records folder lies; the machine's own disk when not given. Copies go to another. */
  readonly disk?: Disk;
  /** Files are read and written outside simulated time. */
  readonly held: <T>(work: () => Promise<T>) => Promise<T>;
}

/** How often it is looked whether an hour or a day has ended. */
const LOOK_EVERY_MS = 60_000;
/** A file share that does not answer keeps nobody waiting for longer. */
const COPIES_WITHIN_MS = 5000;

/**
 * Signs where the station's records end: when it opens, after each hour in which something was recorded, at the end of the
 * plant's day, and when it closes. What a head knew must be there at every later start.
 */
export class DailyHeads {
  readonly #parts: DailyHeadsParts;
  readonly #key: StationKey;
  readonly #log: DailyHeadLog;
  #store: Pick<RecordStore, "ends"> | null = null;
  #newest: WrittenHead | null = null;
  #warn: (sentence: string) => void = () => undefined;
  #warned = "";
  #timer: unknown;
  #isClosed = false;
  /** The one write or copy under way. */
  #work: Promise<unknown> = Promise.resolve();
  #copying: Promise<void> | null = null;

  /** @throws RecordError where the station's key can't be used */
  constructor(parts: DailyHeadsParts) {
    this.#parts = parts;
    const { keyFile, publicKey } = parts.settings;
    this.#key = openStationKey(keyFile, publicKey);
    this.#log = new DailyHeadLog(parts.recordsFolder, parts.disk);
  }

  /**
   * Whether everything is there that the newest head, here or among the copies, knew of, and nothing came while it was closed.
   * @returns what could not be seen or is doubtful, a sentence each
   * @throws RecordError CORRUPT where it is not
   */
  async requireComplete(travellerPath: (sequence: number) => string | null): Promise<readonly string[]> {
    const { settings, recordsFolder, disk } = this.#parts;
    const it = {
      ...(disk ? { disk } : {}),
      folder: recordsFolder,
      keys: [settings.publicKey, ...settings.formerPublicKeys],
      pathOf: (chain: string, sequence: number) =>
        chain === "travellers" ? travellerPath(sequence) : logFile(chain, sequence),
    };
    const newest = await requireNewestHead(it);
    const unseen = this.#key.warning === null ? [] : [this.#key.warning];
    unseen.push(...(await requireNothingSince(it, newest)));
    if (settings.copiesFolder === null) return unseen;
    try {
      await this.#soon(requireCopies(it, settings.copiesFolder, newest));
    } catch (error) {
      if (error instanceof RecordError) throw error;
      unseen.push(copiesFailed(settings.copiesFolder, "compared", error));
    }
    return unseen;
  }

  /**
   * Signs the records as they are before anything is tested.
   * @param warn told of what goes wrong later; a copy that fails stops nothing
   * @throws RecordError when the head can't be written
   */
  async open(store: Pick<RecordStore, "ends">, warn: (sentence: string) => void): Promise<ChainHead> {
    this.#store = store;
    this.#warn = warn;
    const { sequence, sha256 } = await this.#write("opened");
    await this.#copy();
    this.#lookLater();
    return { sequence, sha256 };
  }

  /** Signs nothing more. */
  stop(): void {
    this.#isClosed = true;
    this.#parts.clock.clearTimeout(this.#timer);
  }

  /** Signs the end. What can't be written is told. */
  async close(): Promise<void> {
    this.stop();
    await this.#work;
    if (this.#store === null) return;
    await this.#write("closed").then(
      () => this.#copy(),
      (error: unknown) => this.#tell(headFailed(error)),
    );
  }

  #lookLater(): void {
    const { clock, held } = this.#parts;
    this.#timer = clock.setTimeout(() => {
      this.#work = held(() => this.#look()).then(
        () => {
          this.#warned = "";
        },
        (error: unknown) => this.#tell(headFailed(error)),
      );
      void this.#work.then(() => {
        if (!this.#isClosed) this.#lookLater();
      });
    }, LOOK_EVERY_MS);
  }

  async #look(): Promise<void> {
    const before = this.#newest?.content;
    if (!before) return;
    const [then, now] = [new Date(before.at), new Date(this.#parts.clock.wall_ms())];
    if (hourOf(then) === hourOf(now)) return;
    const hasDayEnded = then.toDateString() !== now.toDateString();
    if (!hasDayEnded && !(await this.#hasNews(before))) return;
    await this.#write(hasDayEnded ? "day_ended" : "hour");
    // A share that is slow to answer holds up no later head.
    await this.#copy();
  }

  async #hasNews({ travellers, dispositions, events }: DailyHead): Promise<boolean> {
    const ends = await this.#store?.ends();
    return (
      ends?.travellers?.sha256 !== travellers?.sha256 ||
      ends?.dispositions?.sha256 !== dispositions?.sha256 ||
      ends?.events?.sha256 !== events?.sha256
    );
  }

  async #write(moment: "opened" | "hour" | "day_ended" | "closed"): Promise<WrittenHead> {
    if (this.#store === null) throw new Error("The records are not open.");
    const { station, clock } = this.#parts;
    const at = new Date(clock.wall_ms()).toISOString();
    const ends = await this.#store.ends();
    this.#newest = await this.#log.append({ at, moment, station, ...ends }, this.#key);
    return this.#newest;
  }

  /** Copies what is not copied yet; a copy before that still hangs is waited for no longer. */
  async #copy(): Promise<void> {
    const { copiesFolder } = this.#parts.settings;
    if (copiesFolder === null || this.#newest === null) return;
    if (this.#copying) {
      this.#tell(copiesFailed(copiesFolder, "written", new Error("it does not answer")));
      return;
    }
    const copying = copyHeads(this.#log, copiesFolder, this.#newest);
    this.#copying = copying.finally(() => {
      this.#copying = null;
    });
    this.#copying.catch(() => undefined);
    try {
      await this.#soon(copying);
    } catch (error) {
      this.#tell(copiesFailed(copiesFolder, "written", error));
    }
  }

  /** In the machine's own time: simulated time stands still meanwhile. */
  async #soon<T>(work: Promise<T>): Promise<T> {
    let timer: NodeJS.Timeout | undefined;
    const late = new Promise<never>((_, reject) => {
      timer = setTimeout(() => reject(new Error("it does not answer")), COPIES_WITHIN_MS);
    });
    try {
      return await Promise.race([work, late]);
    } finally {
      clearTimeout(timer);
    }
  }

  /** Once, while it stays the same. */
  #tell(sentence: string): void {
    if (sentence === this.#warned) return;
    this.#warned = sentence;
    this.#warn(sentence);
  }
}

function hourOf(at: Date): string {
  return `${at.toDateString()} ${at.getHours()}`;
}

function copiesFailed(folder: string, what: "written" | "compared", error: unknown): string {
  const why = error instanceof Error ? error.message : String(error);
  return `The copies of the daily heads in ${folder} could not be ${what} (${why}). The station goes on; look whether that folder can be reached and written.`;
}

function headFailed(error: unknown): string {
  const why = error instanceof Error ? error.message : String(error);
  return `The daily head could not be written, so that the end of the records is not signed. ${why}`;
}
