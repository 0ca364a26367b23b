import { join } from "node:path";
import { type AttemptIntent, readIntent } from "./attempt-intent.ts";
import { canonicalText } from "./chain.ts";
import type { Disk } from "./disk.ts";
import { unlinkIfThere, writeOnce } from "./durable-file.ts";
import type { AttemptSummary } from "./index-db.ts";
import { RecordError } from "./record-error.ts";
import { OPEN_FOLDER, safeSerial } from "./record-name.ts";
import type { AttemptFacts } from "./traveller.ts";

/** The attempts of a records folder that were begun and have no traveller yet, each a file in `.open/`. */
export class OpenAttempts {
  readonly #folder: string;
  readonly #disk: Disk;
  /** By id. */
  readonly #open = new Map<string, { readonly facts: AttemptFacts; readonly path: string }>();
  #temps = 0;

  /** @param folder the records folder */
  constructor(folder: string, disk: Disk) {
    this.#folder = join(folder, OPEN_FOLDER);
    this.#disk = disk;
  }

  /** Removes what a stopped run left half-written, and proves that a file can be written durably. */
  async proveWritable(): Promise<void> {
    for (const name of await this.#disk.readdir(this.#folder)) {
      if (name.endsWith(".part")) await this.#disk.unlink(join(this.#folder, name));
    }
    const probe = join(this.#folder, `${this.#temps++}.probe.part`);
    await this.writeOnce("This folder can be written to.", probe);
    await this.#disk.unlink(probe);
  }

  /**
   * Reads what an earlier run left open.
   * @param hasTraveller whether the attempt with this id is recorded
   * @throws RecordError CORRUPT
   */
  async read(hasTraveller: (id: string) => boolean): Promise<void> {
    for (const name of (await this.#disk.readdir(this.#folder)).sort()) {
      if (!name.endsWith(".json")) continue;
      const path = join(this.#folder, name);
      const { id, facts } = await readIntent(path, this.#disk);
      // Its traveller is on disk: only the removal was lost.
      if (hasTraveller(id)) await this.#disk.unlink(path);
      else this.#open.set(id, { facts, path });
    }
  }

  /** @throws RecordError ATTEMPT_TAKEN where it or a later one of its serial is open or recorded */
  requireFree({ serial, attempt }: AttemptFacts, recorded: readonly AttemptSummary[]): void {
    const open = [...this.#open.values()].map(({ facts }) => ({
      serial: facts.serial,
      attempt: facts.attempt.number,
    }));
    const taken = [...open, ...recorded].some(
      (other) => other.serial === serial && other.attempt >= attempt.number,
    );
    if (!taken) return;
    throw new RecordError(
      "ATTEMPT_TAKEN",
      "",
      `Attempt ${attempt.number} of ${serial} is open or recorded already: scan the unit again.`,
    );
  }

  /** Durably. @throws RecordError */
  async begin(intent: AttemptIntent): Promise<void> {
    const { id, facts } = intent;
    const path = join(this.#folder, `${safeSerial(facts.serial)}-${facts.attempt.number}-${id}.json`);
    await this.writeOnce(canonicalText(intent), path);
    this.#open.set(id, { facts, path });
  }

  /** @throws RecordError NOT_OPEN */
  factsOf(id: string): AttemptFacts {
    const open = this.#open.get(id);
    if (open) return open.facts;
    throw new RecordError("NOT_OPEN", "", `Attempt ${id} was not begun here, or has its traveller already.`);
  }

  /** In the order in which they were begun. */
  all(): readonly { readonly id: string; readonly facts: AttemptFacts }[] {
    return [...this.#open].map(([id, { facts }]) => ({ id, facts }));
  }

  /**
   * Its traveller is on disk.
   * @returns when its file has gone; not durably: should a power cut bring it back, the next start finds the traveller and drops it
   */
  end(id: string): Promise<void> {
    const open = this.#open.get(id);
    this.#open.delete(id);
    return open ? unlinkIfThere(open.path, this.#disk) : Promise.resolve();
  }

  /** Writes any file of the records folder by way of `.open/`, see `writeOnce`. */
  writeOnce(text: string, path: string): Promise<void> {
    return writeOnce(text, join(this.#folder, `${this.#temps++}.part`), path, this.#disk);
  }
}
