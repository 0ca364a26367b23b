import type { Clock } from "../../drivers/ports.ts";
import { type Disposition, type DispositionDraft, requireRecorded } from "./disposition.ts";
import { type Doubts, doubtsOf, NO_DOUBTS } from "./doubts.ts";
import type { IndexedAttempts } from "./indexed-attempts.ts";
import type { StationLogs } from "./station-logs.ts";
import { holdsCalledFor } from "./suspect-units.ts";

/** What a station, and commands beside it, decide about tested units, and what that leaves in doubt. Asked one thing after the other. */
export class Decisions {
  readonly #attempts: Pick<IndexedAttempts, "ask">;
  readonly #logs: Pick<StationLogs, "dispositions" | "followDispositions" | "dispose">;
  readonly #clock: Pick<Clock, "wall_ms">;
  /** As long as neither a disposition nor a test of a held unit has come. */
  #doubts: Doubts | undefined;

  constructor(
    attempts: Pick<IndexedAttempts, "ask">,
    logs: Pick<StationLogs, "dispositions" | "followDispositions" | "dispose">,
    clock: Pick<Clock, "wall_ms">,
  ) {
    this.#attempts = attempts;
    this.#logs = logs;
    this.#clock = clock;
  }

  /** A test of this unit was recorded. */
  tested(serial: string): void {
    if (this.#logs.dispositions.of(serial).length > 0) this.#doubts = undefined;
  }

  /** @throws RecordError CORRUPT */
  async of(serial: string): Promise<readonly Disposition[]> {
    await this.#follow();
    return this.#logs.dispositions.of(serial);
  }

  /** @throws RecordError INVALID_RECORD when a unit's traveller is not in the records or does not count, DISK_FULL ... */
  async dispose(draft: DispositionDraft): Promise<Disposition> {
    await this.#attempts.ask((records) => requireRecorded(draft, ({ serial }) => records.history(serial)));
    return this.#dispose(draft);
  }

  /**
   * Holds what failed checks put in doubt, one record for each check; see `holdsCalledFor`. Every piece is asked about that was
   * ever checked: one that failed may have been replaced before its hold was written. A check that has its hold gets no other,
   * so that this may be called as often as one likes: also at the start, in case the program was stopped between a failed
   * check's traveller and the hold.
   * @returns the holds that were made now
   */
  async ensureHolds(): Promise<readonly Disposition[]> {
    await this.#follow();
    const { dispositions } = this.#logs;
    const drafts = await this.#attempts.ask((records) =>
      records
        .pieces()
        .flatMap((piece) => holdsCalledFor(piece, records, (check) => dispositions.hasHoldFor(check))),
    );
    const made: Disposition[] = [];
    for (const draft of drafts) made.push(await this.#dispose(draft));
    return made;
  }

  /** @returns which travellers holds have taken the trust from; the same object as before where nothing changed */
  async inDoubt(): Promise<Doubts> {
    await this.#follow();
    const { held } = this.#logs.dispositions;
    this.#doubts ??=
      held.untrusted.size + held.byHand.size + held.scrapped.size === 0
        ? NO_DOUBTS
        : await this.#attempts.ask((records) => doubtsOf(held, (serial) => records.history(serial)));
    return this.#doubts;
  }

  /** Commands may have added some. */
  async #follow(): Promise<void> {
    if (await this.#logs.followDispositions()) this.#doubts = undefined;
  }

  async #dispose(draft: DispositionDraft): Promise<Disposition> {
    this.#doubts = undefined;
    return this.#logs.dispose(draft, this.#clock.wall_ms());
  }
}
