import type { StationEvent, StationEventDraft } from "./records/station-event.ts";

/** Keeps what happens to the station among its records, in order, without anybody waiting for it. */
export class StationLog {
  readonly #note: (event: StationEventDraft) => Promise<StationEvent>;
  readonly #failed: (error: unknown) => void;
  readonly #unwritten: StationEventDraft[] = [];
  #writing: Promise<void> = Promise.resolve();

  /**
   * @param note writes one event durably
   * @param failed told when one could not be written; it is kept, and tried again with the next
   */
  constructor(note: (event: StationEventDraft) => Promise<StationEvent>, failed: (error: unknown) => void) {
    this.#note = note;
    this.#failed = failed;
  }

  note(event: StationEventDraft): void {
    this.#unwritten.push(event);
    this.written().catch(this.#failed);
  }

  /** Resolves when everything noted so far is on the disk. @throws RecordError */
  written(): Promise<void> {
    const turn = this.#writing.then(() => this.#writeAll());
    this.#writing = turn.catch(() => undefined);
    return turn;
  }

  async #writeAll(): Promise<void> {
    for (let next = this.#unwritten[0]; next; next = this.#unwritten[0]) {
      await this.#note(next);
      this.#unwritten.shift();
    }
  }
}
