import { changedThen, LOOKED_BACK, LOOKED_ON, type UnitInContext } from "./changed-then.ts";
import { CharacteristicWatch, type Drift, type Entry } from "./characteristic-watch.ts";
import type { EarlyWarning, WarnedUnit } from "./early-warning.ts";
import { warningSentence } from "./warning-words.ts";
import { isWithin, placed, type Scope, type WatchedUnit } from "./watched-unit.ts";

interface NamedDrift {
  readonly name: string;
  readonly drift: Drift;
  /** Place of its first suspect among the units. */
  readonly first: number;
}

/** First suspects of characteristics that changed together lie no further apart, in units of the model. */
const TOGETHER = 25;

/** What is recorded of a unit's test besides its parts and limits: its shift, gauges and inspector, as far as they are known. */
export type ContextOf = (unit: WatchedUnit) => Readonly<Record<string, string>>;

/**
 * Early warning for one model: watches every characteristic of its units, in the order of recording, for a change of its level. What
 * it says follows from the units it was given, and from nothing else.
 */
export class ModelWatch {
  readonly #model: string;
  readonly #units: WatchedUnit[] = [];
  readonly #place = new Map<WatchedUnit, number>();
  readonly #characteristics = new Map<string, CharacteristicWatch>();
  #signals = 0;

  constructor(model: string, units: Iterable<WatchedUnit> = []) {
    this.#model = model;
    for (const unit of units) this.add(unit);
  }

  /** In the order in which they were given. */
  get units(): readonly WatchedUnit[] {
    return this.#units;
  }

  /** Drifts that were signalled so far. */
  get signals(): number {
    return this.#signals;
  }

  /** Whether none of them stands. */
  get isQuiet(): boolean {
    return this.#signals === 0 || ![...this.#characteristics.values()].some((it) => it.isStanding);
  }

  /** @returns whether the unit signals a drift */
  add(unit: WatchedUnit): boolean {
    this.#place.set(unit, this.#units.push(unit) - 1);
    const before = this.#signals;
    const it = placed(unit);
    for (const value of unit.values) {
      const watch = this.#characteristics.get(value.name) ?? new CharacteristicWatch();
      this.#characteristics.set(value.name, watch);
      if (watch.add(it, value)) this.#signals++;
    }
    return this.#signals > before;
  }

  /** Warnings that stand, the plainest first. */
  standing(contextOf: ContextOf = () => ({})): EarlyWarning[] {
    const weight = ({ drift }: NamedDrift) => Math.abs(drift.shift_sd) * Math.sqrt(drift.entries.length);
    const standing = this.#drifts().filter(({ drift }) => drift.ended === null);
    return this.#told(
      standing.sort((a, b) => weight(b) - weight(a)),
      standing,
      contextOf,
    );
  }

  /**
   * Warnings so far, in the order in which they were given.
   * @param isAsked by the unit that signalled a warning: only of these
   */
  warnings(
    contextOf: ContextOf = () => ({}),
    isAsked: (drift: Drift) => boolean = () => true,
  ): EarlyWarning[] {
    const drifts = this.#drifts();
    const signalled = ({ drift }: NamedDrift) => this.#place.get(drift.signalled) ?? -1;
    return this.#told(
      drifts.filter(({ drift }) => isAsked(drift)).sort((a, b) => signalled(a) - signalled(b)),
      drifts,
      contextOf,
    );
  }

  #drifts(): NamedDrift[] {
    return [...this.#characteristics].flatMap(([name, watch]) =>
      watch.drifts.map((drift) => ({ name, drift, first: this.#placeOf(drift.entries[0]) })),
    );
  }

  #told(told: readonly NamedDrift[], all: readonly NamedDrift[], contextOf: ContextOf): EarlyWarning[] {
    return told.map(({ name, drift, first }) => {
      const together = all
        .filter((other) => other.name !== name && Math.abs(other.first - first) <= TOGETHER)
        .map((other) => other.name);
      return this.#warning(name, drift, [...new Set(together)], contextOf);
    });
  }

  #warning(
    characteristic: string,
    drift: Drift,
    together: readonly string[],
    contextOf: ContextOf,
  ): EarlyWarning {
    const { scope, direction, entries, before, signalled, ended, shift_sd } = drift;
    const unit = entries[0]?.unit ?? signalled;
    const within = this.#within(scope);
    const first = within.indexOf(unit);
    // Who worked when takes long to say of thousands of units, and only these are looked at.
    const from = Math.max(0, first - LOOKED_BACK);
    const near = within.slice(from, first + LOOKED_ON).map((it) => inContext(it, scope, contextOf));
    const facts = { model: this.#model, characteristic, cavity: scope, direction, units: entries.length };
    return {
      ...facts,
      unit: unit.values.find(({ name }) => name === characteristic)?.unit ?? "",
      sentence: warningSentence({ ...facts, first: unit.serial }),
      first: named(unit),
      signalled: named(signalled),
      ended: ended && { ...named(ended.unit), why: ended.why },
      shift_sd,
      before: median(before),
      since: median(entries),
      changed: changedThen(near, first - from),
      together,
    };
  }

  #placeOf(entry: Entry | undefined): number {
    return (entry && this.#place.get(entry.unit)) ?? -1;
  }

  #within(scope: Scope): WatchedUnit[] {
    return scope === null
      ? this.#units
      : this.#units.filter((unit) => isWithin(scope, placed(unit).cavities));
  }
}

function named({ serial, at }: WatchedUnit): WarnedUnit {
  return { serial, at };
}

function inContext(unit: WatchedUnit, scope: Scope, contextOf: ContextOf): UnitInContext {
  const { serial, at, parts, revision, station } = unit;
  const others = Object.entries(parts).filter(([part]) => part !== scope?.part);
  return {
    serial,
    at,
    context: {
      ...Object.fromEntries(others),
      "limit revision": String(revision),
      station,
      ...contextOf(unit),
    },
  };
}

function median(entries: readonly Entry[]): number {
  const sorted = entries.map(({ value }) => value).sort((a, b) => a - b);
  const middle = sorted.length >>> 1;
  const [above = 0, below = above] = [sorted[middle], sorted[sorted.length % 2 === 1 ? middle : middle - 1]];
  return (above + below) / 2;
}
