import type { EarlyWarning } from "./quality/early-warning/early-warning.ts";
import type { WatchedUnit } from "./quality/early-warning/watched-unit.ts";
import type { Doubts } from "./records/doubts.ts";
import type { FirstTest } from "./records/first-tests.ts";
import type { Records } from "./station-records.ts";
import { Calendar } from "./study-data/record-asked.ts";
import { RecordsWatch } from "./study-data/records-watch.ts";

export interface EarlyWarningParts {
  readonly store: Pick<Records, "firstTests" | "firstTestsWindow" | "inDoubt">;
  /** Begins of shifts; empty where none is known. */
  readonly shifts: readonly string[];
  /** Lets everything else at the station have its turn: a first look takes a quarter of a second of the processor. */
  readonly pause: () => Promise<void>;
  /** Told in a sentence, once, when the records could not be looked at. */
  readonly failed: (sentence: string) => void;
  /** Told of warnings that are new, the plainest first. */
  readonly signalled: (warnings: readonly EarlyWarning[]) => void;
}

interface Watched {
  readonly records: RecordsWatch;
  readonly doubts: Doubts;
}

/**
 * Early warning while the station runs. It looks at the records after a unit's verdict was told, one look after the other, and nothing
 * waits for it; a look that fails leaves the warnings as they were, and the next one catches up. After a new start it says what it
 * would have said without.
 */
export class EarlyWarningWatch {
  readonly #parts: EarlyWarningParts;
  readonly #models = new Map<string, Watched>();
  #standing: readonly EarlyWarning[] = [];
  #looking: Promise<void> = Promise.resolve();
  #hasFailed = false;

  constructor(parts: EarlyWarningParts) {
    this.#parts = parts;
  }

  /** Warnings that stand now, the plainest of each model first. */
  get standing(): readonly EarlyWarning[] {
    return this.#standing;
  }

  /** Looks at what was recorded of a model since it last did; the first time at all that it needs. */
  look(model: string): void {
    this.#looking = this.#looking
      .then(() => this.#look(model))
      .catch((error: unknown) => this.#failed(error));
  }

  /** Resolves when every look has been taken. */
  looked(): Promise<void> {
    return this.#looking;
  }

  async #look(model: string): Promise<void> {
    const before = this.#models.get(model);
    const now = before ? await this.#goneOn(model, before) : await this.#begun(model);
    this.#models.set(model, now);
    this.#hasFailed = false;
    const known = new Set(this.#standing.map(nameOf));
    const standing = now.records.watch.standing(this.#contextOf());
    this.#standing = [...this.#standing.filter((it) => it.model !== model), ...standing];
    const news = standing.filter((it) => !known.has(nameOf(it)));
    // What is found at the start stands on the screen, and was told when it was new.
    if (before && news.length > 0) this.#parts.signalled(news);
  }

  /** What follows is the same failure; the first look that goes well is followed by one that may fail anew. */
  #failed(error: unknown): void {
    if (this.#hasFailed) return;
    this.#hasFailed = true;
    const why = error instanceof Error ? error.message : String(error);
    this.#parts.failed(
      `Early warning could not look at the records, and tries again after the next unit; tests and verdicts go on as they are. ${why}`,
    );
  }

  async #begun(model: string): Promise<Watched> {
    const { store, pause } = this.#parts;
    const doubts = await store.inDoubt();
    const window = await store.firstTestsWindow(model);
    const isTrusted = ({ sha256 }: FirstTest) => !doubts.untrusted.has(sha256);
    return { records: await RecordsWatch.of(model, window, isTrusted, pause), doubts };
  }

  async #goneOn(model: string, before: Watched): Promise<Watched> {
    const { store } = this.#parts;
    // A test that was taken for good, or may be again, changes what the others are compared with.
    if ((await store.inDoubt()) !== before.doubts) return this.#begun(model);
    const after = before.records.newest;
    await before.records.add(await store.firstTests({ model, after, upTo: Number.MAX_SAFE_INTEGER }));
    return before;
  }

  #contextOf(): (unit: WatchedUnit) => Readonly<Record<string, string>> {
    const { shifts } = this.#parts;
    const calendar = new Calendar(shifts);
    return ({ at }) =>
      shifts.length === 0
        ? { day: calendar.dayOf(Date.parse(at)) }
        : { shift: calendar.datedShiftOf(Date.parse(at)) };
  }
}

function nameOf({ model, characteristic, cavity, first, direction }: EarlyWarning): string {
  return JSON.stringify([model, characteristic, cavity, first.serial, direction]);
}
