import { ModelWatch } from "../quality/early-warning/model-watch.ts";
import type { WatchedUnit } from "../quality/early-warning/watched-unit.ts";
import { type FirstTest, laterWindow, type TestsWindow } from "../records/first-tests.ts";
import { WatchedUnits } from "./watched-units.ts";

/** A first test, read once however often a window begins anew. */
interface Looked {
  readonly sequence: number;
  /** Null for one that is in doubt. */
  readonly unit: WatchedUnit | null;
}

/** Units looked at without a pause. */
const AT_ONCE = 50;

/**
 * Early warning over the records of one model. It looks at a window of them, which begins anew at the same test whoever looks and
 * however many at once: so a station and a report name the same warnings of the same records.
 */
export class RecordsWatch {
  readonly #model: string;
  readonly #isTrusted: (test: FirstTest) => boolean;
  readonly #pause: () => Promise<void>;
  readonly #units = new WatchedUnits();
  #watch: ModelWatch;
  #after = 0;
  #tests: Looked[] = [];

  private constructor(model: string, isTrusted: (test: FirstTest) => boolean, pause: () => Promise<void>) {
    this.#model = model;
    this.#isTrusted = isTrusted;
    this.#pause = pause;
    this.#watch = new ModelWatch(model);
  }

  /**
   * @param isTrusted whether nothing put a test in doubt
   * @param pause lets everything else have its turn
   */
  static async of(
    model: string,
    { after, tests }: TestsWindow,
    isTrusted: (test: FirstTest) => boolean,
    pause: () => Promise<void> = async () => undefined,
  ): Promise<RecordsWatch> {
    const it = new RecordsWatch(model, isTrusted, pause);
    await it.#begin({ after, tests: tests.map((test) => it.#looked(test)) });
    return it;
  }

  /** What it says now. */
  get watch(): ModelWatch {
    return this.#watch;
  }

  /** Number of the newest test it has looked at, or of the record after which it began. */
  get newest(): number {
    return this.#tests.at(-1)?.sequence ?? this.#after;
  }

  /**
   * Looks at the tests that follow.
   * @param left told of a watch that was left for another, which began later, and of the test at which that was
   */
  async add(
    tests: readonly FirstTest[],
    left: (from: ModelWatch, to: ModelWatch, at: FirstTest) => void = () => undefined,
  ): Promise<void> {
    for (const [k, test] of tests.entries()) {
      if (k % AT_ONCE === AT_ONCE - 1) await this.#pause();
      const looked = this.#looked(test);
      this.#tests.push(looked);
      let later = laterWindow({ after: this.#after, tests: this.#tests });
      if (later === null) {
        if (looked.unit) this.#watch.add(looked.unit);
        continue;
      }
      for (let next = laterWindow(later); next; next = laterWindow(later)) later = next;
      const from = this.#watch;
      await this.#begin(later);
      left(from, this.#watch, test);
    }
  }

  async #begin({ after, tests }: TestsWindow<Looked>): Promise<void> {
    this.#after = after;
    this.#tests = [...tests];
    this.#watch = new ModelWatch(this.#model);
    for (const [k, { unit }] of tests.entries()) {
      if (k % AT_ONCE === 0) await this.#pause();
      if (unit) this.#watch.add(unit);
    }
  }

  #looked(test: FirstTest): Looked {
    return { sequence: test.sequence, unit: this.#isTrusted(test) ? this.#units.of(test) : null };
  }
}
