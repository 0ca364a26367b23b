import { ChainedLog, type LogEntry } from "./chained-log.ts";
import type { ChainEnds } from "./daily-head.ts";
import type { Disk } from "./disk.ts";
import type { Disposition, DispositionDraft } from "./disposition.ts";
import { DispositionLog } from "./disposition-log.ts";
import type { IndexedAttempts } from "./indexed-attempts.ts";
import { eventAt, StationEvent, type StationEventDraft } from "./station-event.ts";

/** Their folder in the records folder. */
export const EVENTS = "events";

/** What is asked and told of the index. */
type Indexed = Pick<IndexedAttempts, "headOf" | "keepHead" | "decidedEnd" | "addDecided" | "putDecidedRight">;

/**
 * What a station keeps beside its travellers: dispositions and events. Each log is a chain, in which nothing can be changed
 * unnoticed; that its end was not cut off is known from the index, which has all dispositions, and of events the last one's number and hash.
 */
export class StationLogs {
  readonly dispositions: DispositionLog;
  readonly #events: ChainedLog<StationEvent>;
  readonly #attempts: Indexed;
  /** Read, and not told the index yet. */
  #decided: LogEntry<Disposition>[] = [];

  constructor(folder: string, attempts: Indexed, disk: Disk) {
    this.#attempts = attempts;
    this.dispositions = new DispositionLog(folder, disk, (added) => {
      this.#decided = [...this.#decided, ...added];
    });
    const what = "station event";
    this.#events = new ChainedLog({ folder, name: EVENTS, what, schema: StationEvent, disk });
  }

  /**
   * Reads all dispositions and the last event.
   * @throws RecordError CORRUPT: neither what is held nor what happened can be relied on then, and the station must not start
   */
  async check(): Promise<void> {
    const decided = this.#attempts.decidedEnd();
    if (decided) await this.dispositions.require(decided);
    const noted = this.#attempts.headOf(EVENTS);
    if (noted) await this.#events.require(noted);
    await this.dispositions.refresh();
    this.#attempts.putDecidedRight(await this.#durablyDecided());
    const end = await this.#events.end();
    if (end === null) return;
    await this.#events.sync();
    this.#attempts.keepHead(EVENTS, end);
  }

  /** Where the logs end now, all of it durably. @throws RecordError */
  async ends(): Promise<Pick<ChainEnds, "dispositions" | "events">> {
    await this.followDispositions();
    return { dispositions: this.dispositions.head, events: await this.#events.end() };
  }

  /** @returns whether any were added since the last time */
  async followDispositions(): Promise<boolean> {
    const hasNew = await this.dispositions.refresh();
    if (!hasNew) return false;
    this.#attempts.addDecided(await this.#durablyDecided());
    return true;
  }

  async dispose(draft: DispositionDraft, at_ms: number): Promise<Disposition> {
    const disposition = await this.dispositions.append(draft, at_ms);
    this.#attempts.addDecided(await this.#durablyDecided());
    return disposition;
  }

  async note(draft: StationEventDraft, at: Parameters<typeof eventAt>[1]): Promise<StationEvent> {
    const entry = await this.#events.append(eventAt(draft, at));
    this.#attempts.keepHead(EVENTS, entry);
    return entry.content;
  }

  /** The numbers decide, which only grow, and no clock. */
  async eventsAfter(sequence: number): Promise<readonly StationEvent[]> {
    const entries = await this.#events.newest(({ after_traveller }) => after_traveller >= sequence);
    return entries.map(({ content }) => content);
  }

  /** @param traveller the first one since that time: behind it a clock that was put back hides nothing */
  async eventsSince(at_ms: number, traveller: number): Promise<readonly StationEvent[]> {
    const isSince = ({ at }: StationEvent) => Date.parse(at) >= at_ms;
    const entries = await this.#events.newest(
      (event) => isSince(event) || event.after_traveller >= traveller,
    );
    return entries.map(({ content }) => content).filter(isSince);
  }

  async settled(): Promise<void> {
    await this.dispositions.settled();
    await this.#events.settled();
  }

  /** What was read, for the index: another process may not have come so far, and it must not know what a power cut still takes away. */
  async #durablyDecided(): Promise<readonly LogEntry<Disposition>[]> {
    const last = this.dispositions.head?.sequence ?? 0;
    if (this.#decided.length > 0) await this.dispositions.sync();
    const durable = this.#decided.filter(({ sequence }) => sequence <= last);
    this.#decided = this.#decided.filter(({ sequence }) => sequence > last);
    return durable;
  }
}
