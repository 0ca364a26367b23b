import type { ChainHead } from "./chain.ts";
import { ChainedLog, type LogEntry } from "./chained-log.ts";
import { unitsOf } from "./decided-table.ts";
import type { Disk } from "./disk.ts";
import { Disposition, type DispositionDraft, dispositionAt } from "./disposition.ts";
import { followHolds, type Held, nothingHeld } from "./doubts.ts";
import { lastDecidedInIndex } from "./index-db.ts";
import { DISPOSITIONS } from "./numbered-log.ts";

/** A records folder's log of dispositions. */
export function dispositionChain(folder: string, disk?: Disk): ChainedLog<Disposition> {
  const what = "disposition";
  const schema = Disposition;
  return new ChainedLog({ folder, name: DISPOSITIONS, what, schema, ...(disk ? { disk } : {}) });
}

/** Every disposition of a records folder, read once and then followed; other processes may add to it meanwhile. */
export class DispositionLog {
  readonly #folder: string;
  readonly #log: ChainedLog<Disposition>;
  readonly #bySerial = new Map<string, Disposition[]>();
  /** Failed reference checks that a hold names. */
  readonly #checks = new Set<string>();
  readonly #held = nothingHeld();
  #head: ChainHead | null = null;
  readonly #onRead: (added: readonly LogEntry<Disposition>[]) => void;
  #reading: Promise<unknown> = Promise.resolve();

  /** @param onRead given all that is read, once each and in order */
  constructor(
    folder: string,
    disk?: Disk,
    onRead: (added: readonly LogEntry<Disposition>[]) => void = () => undefined,
  ) {
    this.#folder = folder;
    this.#log = dispositionChain(folder, disk);
    this.#onRead = onRead;
  }

  /** The last one that was read. */
  get head(): ChainHead | null {
    return this.#head;
  }

  /** As far as read. */
  get held(): Held {
    return this.#held;
  }

  /** @returns units that any of them names, as far as read */
  serials(): Iterable<string> {
    return this.#bySerial.keys();
  }

  /** @returns those naming the unit, as far as read, in the order of recording */
  of(serial: string): readonly Disposition[] {
    return this.#bySerial.get(serial) ?? [];
  }

  /** @returns whether a hold was made for this failed reference check */
  hasHoldFor(check: string): boolean {
    return this.#checks.has(check);
  }

  /**
   * Reads what was added since.
   * @returns whether there was anything
   * @throws RecordError CORRUPT
   */
  refresh(): Promise<boolean> {
    const turn = this.#reading.then(async () => {
      const added = await this.#log.after(this.#head);
      for (const { content, sequence, sha256 } of added) {
        this.#take(content);
        this.#head = { sequence, sha256 };
      }
      if (added.length > 0) this.#onRead(added);
      return added.length > 0;
    });
    this.#reading = turn.catch(() => undefined);
    return turn;
  }

  /**
   * As `refresh`, for whoever does not hold the folder's lock. The chain doesn't show where its end was cut off: the station's
   * index does, if there is one.
   * @throws RecordError CORRUPT
   */
  async refreshBesideStation(): Promise<void> {
    const known = lastDecidedInIndex(this.#folder);
    await this.refresh();
    if (known) await this.require(known);
  }

  /** @throws RecordError, CORRUPT where the last one that was read has gone; nothing was recorded then */
  async append(draft: DispositionDraft, at_ms: number): Promise<Disposition> {
    if (this.#head) await this.require(this.#head);
    const { content } = await this.#log.append(dispositionAt(draft, at_ms));
    await this.refresh();
    return content;
  }

  /** @throws RecordError CORRUPT where this one, known from elsewhere, is not there as it was */
  require(head: ChainHead): Promise<void> {
    return this.#log.require(head);
  }

  sync(): Promise<void> {
    return this.#log.sync();
  }

  settled(): Promise<void> {
    return this.#log.settled();
  }

  #take(disposition: Disposition): void {
    followHolds(this.#held, disposition);
    if (disposition.reference !== undefined) this.#checks.add(disposition.reference);
    for (const serial of unitsOf(disposition)) {
      const known = this.#bySerial.get(serial);
      if (known) known.push(disposition);
      else this.#bySerial.set(serial, [disposition]);
    }
  }
}
