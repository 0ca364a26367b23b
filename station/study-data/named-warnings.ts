import type { EarlyWarning } from "../quality/early-warning/early-warning.ts";
import type { ContextOf, ModelWatch } from "../quality/early-warning/model-watch.ts";
import type { FirstTest } from "../records/first-tests.ts";

interface Left {
  readonly watch: ModelWatch;
  /** Of its warnings these were never told again. */
  readonly named: ReadonlyMap<string, EarlyWarning["ended"]>;
}

/**
 * The warnings of a model that a station would have told, one watch after the other: those that had ended when it turned to a later
 * window, and what the next one goes on with.
 */
export class NamedWarnings {
  readonly #left: Left[] = [];
  /** Of the newest watch: told by an earlier one, or found only afterwards and over by then. */
  #unnamed: ReadonlySet<string> = new Set();

  /** To be told whenever a watch is left for another. */
  readonly left = (from: ModelWatch, to: ModelWatch, at: FirstTest): void => {
    const goesOn = to.warnings().filter(({ ended }) => ended === null);
    const over = from
      .warnings()
      .filter((it) => !this.#unnamed.has(keyOf(it)))
      .filter((it) => it.ended !== null || !goesOn.some((other) => isSame(it, other)));
    const unit = { serial: at.serial, at: at.started_at };
    this.#left.push({
      watch: from,
      named: new Map(over.map((it) => [keyOf(it), it.ended ?? { ...unit, why: "not confirmed" }])),
    });
    this.#unnamed = new Set(
      to
        .warnings()
        .filter(({ ended }) => ended !== null)
        .map(keyOf),
    );
  };

  /**
   * @param newest the watch that was not left
   * @param isAsked by when a warning was given
   * @returns in the order in which they were given
   */
  of(newest: ModelWatch, isAsked: (at: string) => boolean, contextOf?: ContextOf): EarlyWarning[] {
    const asked = (watch: ModelWatch) => watch.warnings(contextOf, ({ signalled }) => isAsked(signalled.at));
    return [
      ...this.#left.flatMap(({ watch, named }) =>
        asked(watch).flatMap((it) => {
          const ended = named.get(keyOf(it));
          return ended === undefined ? [] : [{ ...it, ended }];
        }),
      ),
      ...asked(newest).filter((it) => !this.#unnamed.has(keyOf(it))),
    ];
  }
}

/** One drift, as two watches may see it: the later one may think another unit the first, or that it is of one cavity. */
function isSame(a: EarlyWarning, b: EarlyWarning): boolean {
  const isOfOther =
    a.cavity && b.cavity && (a.cavity.part !== b.cavity.part || a.cavity.value !== b.cavity.value);
  return a.characteristic === b.characteristic && a.direction === b.direction && !isOfOther;
}

function keyOf({ characteristic, cavity, direction, first, signalled }: EarlyWarning): string {
  return JSON.stringify([characteristic, cavity, direction, first.serial, signalled.serial]);
}
