import { DECISION, DECISION_OF_MANY, DriftSum, MOST, MOST_IN_TAIL } from "./drift-sum.ts";
import type { WhyEnded } from "./early-warning.ts";
import { RankScores } from "./rank-scores.ts";
import {
  isWithin,
  type PlacedUnit,
  type Scope,
  type WatchedUnit,
  type WatchedValue,
} from "./watched-unit.ts";

type Direction = "rises" | "falls";

/** A value that is known to the charts of its characteristic. */
export interface Entry {
  readonly unit: WatchedUnit;
  readonly value: number;
  readonly cavities: readonly NonNullable<Scope>[];
  readonly cell: string;
  /** Null where too little was known to score it, or where it stands alone far out. */
  readonly score: number | null;
}

/** A drift that was signalled. */
export interface Drift {
  readonly scope: Scope;
  readonly direction: Direction;
  /** From the first suspect up to the newest, or to where it ended. */
  readonly entries: readonly Entry[];
  /** The newest before it, oldest first. */
  readonly before: readonly Entry[];
  readonly signalled: WatchedUnit;
  readonly ended: {
    readonly unit: WatchedUnit;
    readonly why: WhyEnded;
  } | null;
  /** Mean score of the units since, against those before: in standard deviations. */
  readonly shift_sd: number;
}

interface Chart {
  readonly scope: Scope;
  readonly sum: DriftSum;
  decision: number;
}

/** What is known of units of the same cavities, and the charts they count in. */
interface Cell {
  known: RankScores;
  readonly charts: readonly Chart[];
}

type Standing = Omit<Drift, "shift_sd"> & { readonly entries: Entry[]; readonly sum: DriftSum };

/** Units of the same cavities before a value is compared with them: fewer would hardly tell a shift. */
const LEAST_KNOWN = 8;
/** So many units after the first suspect, what is new has become usual: whoever was to be told has been told. */
const NEW_LEVEL = 100;
/** Of units before a drift, for the report. */
const COMPARED = 200;

/**
 * The charts of one characteristic of a model: one of all units, one of each cavity. A value is scored among earlier ones of the
 * same cavities only, so that differences between cavities, and which of them are running, are no drift.
 *
 * Once a drift is signalled, its units leave what later ones are compared with and count in no other chart. It ends when its sum is
 * back at zero, when other limits have come into force, or after a hundred units, which are then what is usual.
 */
export class CharacteristicWatch {
  readonly #cells = new Map<string, Cell>();
  readonly #charts = new Map<string, Chart>();
  #entries: Entry[] = [];
  readonly #standing: Standing[] = [];
  readonly #ended: Drift[] = [];

  /** Every drift so far, in the order in which they were signalled. */
  get drifts(): readonly Drift[] {
    return [
      ...this.#ended,
      ...this.#standing.map(({ sum: _, ...drift }) => ({ ...drift, shift_sd: this.#shiftOf(drift.entries) })),
    ];
  }

  get isStanding(): boolean {
    return this.#standing.length > 0;
  }

  /** @returns whether this unit signals a drift */
  add({ unit, cavities, keys, cell }: PlacedUnit, { value, hasLongTail = false }: WatchedValue): boolean {
    const of = this.#cells.get(cell) ?? this.#newCell(cell, cavities, keys);
    const { known } = of;
    const isAlone = known.isAlone(value);
    const most = hasLongTail ? MOST_IN_TAIL : MOST;
    const isScored = !isAlone && known.count >= LEAST_KNOWN;
    const score = isScored ? Math.min(Math.max(-most, known.scoreOf(value)), most) : null;
    const entry: Entry = { unit, value, cavities, cell, score };
    const standing = this.#standing.length === 0 ? undefined : this.#standingOver(cavities);
    if (standing && standing.signalled.revision !== unit.revision) {
      this.#end(standing, unit, "limits changed");
      of.known.keep(value);
      return this.#follow({ ...entry, score: null }, of);
    }
    if (!standing) {
      if (!isAlone) known.keep(value);
      return this.#follow(entry, of);
    }
    standing.entries.push(entry);
    if (score !== null) standing.sum.add(score, 0, DECISION);
    if (standing.sum.sumOf(standing.direction) === 0) this.#end(standing, unit, "returned");
    else if (standing.entries.length >= NEW_LEVEL) this.#end(standing, unit, "new level");
    return false;
  }

  #follow(entry: Entry, { charts }: Cell): boolean {
    const at = this.#entries.push(entry) - 1;
    if (entry.score === null) return false;
    let signalled: Direction | null = null;
    for (const { sum, decision } of charts) signalled = sum.add(entry.score, at, decision) ?? signalled;
    if (signalled !== null) this.#begin(signalled, entry.unit);
    return signalled !== null;
  }

  #newCell(cell: string, cavities: Entry["cavities"], keys: readonly string[]): Cell {
    const charts = keys.map((key, k) => {
      const chart = this.#charts.get(key) ?? newChart(cavities[k - 1] ?? null);
      this.#charts.set(key, chart);
      return chart;
    });
    const made = { known: new RankScores(), charts };
    this.#cells.set(cell, made);
    for (const { part } of cavities) this.#decideOn(part);
    return made;
  }

  #decideOn(part: string): void {
    const of = [...this.#charts.values()].filter(({ scope }) => scope?.part === part);
    for (const chart of of) chart.decision = of.length > 2 ? DECISION_OF_MANY : DECISION;
  }

  #standingOver(cavities: Entry["cavities"]): Standing | undefined {
    return this.#standing.find(({ scope }) => isWithin(scope, cavities));
  }

  /** Where one cavity drifts, the chart of all units may be the first to say so: the scope is the one that explains most. */
  #begin(direction: Direction, signalled: WatchedUnit): void {
    const sign = direction === "rises" ? 1 : -1;
    let [scope, entries, most]: [Scope, readonly Entry[], number] = [null, this.#entries.slice(-1), -1];
    for (const { scope: asked, sum } of this.#charts.values()) {
      if (sum.sumOf(direction) === 0) continue;
      const within = this.#within(asked, sum.sinceOf(direction));
      const { from, evidence } = likeliestShift(within.map(({ score }) => sign * (score ?? 0)));
      if (evidence > most) [scope, entries, most] = [asked, within.slice(from), evidence];
    }
    const of = new Set(entries);
    const since = this.#entries.findIndex((it) => of.has(it));
    const before = this.#entries.slice(0, since).filter((it) => isWithin(scope, it.cavities));
    this.#entries = this.#entries.filter((it) => !of.has(it));
    for (const { cell, value } of entries) this.#cells.get(cell)?.known.forget(value);
    const sum = new DriftSum();
    for (const { score } of entries) if (score !== null) sum.add(score, 0, DECISION);
    for (const chart of this.#charts.values()) chart.sum.reset();
    this.#standing.push({
      ...{ scope, direction, entries: [...entries], signalled, sum, ended: null },
      before: before.slice(-COMPARED),
    });
  }

  #end(standing: Standing, unit: WatchedUnit, why: WhyEnded): void {
    const { scope, entries } = standing;
    const { sum: _, ...drift } = standing;
    this.#ended.push({ ...drift, ended: { unit, why }, shift_sd: this.#shiftOf(entries) });
    this.#standing.splice(this.#standing.indexOf(standing), 1);
    if (why !== "returned") this.#takeForUsual(scope, entries);
  }

  #takeForUsual(scope: Scope, entries: readonly Entry[]): void {
    const cells = new Set(this.#entries.filter((it) => isWithin(scope, it.cavities)).map(({ cell }) => cell));
    for (const name of cells) {
      const cell = this.#cells.get(name);
      if (cell) cell.known = new RankScores();
    }
    this.#entries = this.#entries.filter((it) => !isWithin(scope, it.cavities));
    for (const entry of entries) {
      this.#cells.get(entry.cell)?.known.keep(entry.value);
      this.#entries.push({ ...entry, score: null });
    }
    // They name entries by their numbers.
    for (const chart of this.#charts.values()) chart.sum.reset();
  }

  #within(scope: Scope, since: number): Entry[] {
    return this.#entries.slice(since).filter((it) => isWithin(scope, it.cavities));
  }

  #shiftOf(entries: readonly Entry[]): number {
    const scores = entries.flatMap(({ cell, value }) => {
      const known = this.#cells.get(cell)?.known;
      return known && known.count >= LEAST_KNOWN ? [known.scoreOf(value)] : [];
    });
    return scores.length === 0 ? 0 : scores.reduce((sum, it) => sum + it, 0) / scores.length;
  }
}

function newChart(scope: Scope): Chart {
  return { scope, sum: new DriftSum(), decision: DECISION };
}

/**
 * Where a shift of the mean most likely began, among scores since a CUSUM left zero, which by itself is early by some units.
 * @returns its place, and twice the logarithm of the likelihood ratio of such a shift against none
 * @see D. V. Hinkley, Inference about the change-point in a sequence of random variables, Biometrika 57 (1970) 1-17 (from memory)
 * @example likeliestShift([0.1, -0.2, 1, 1.2]) // from 2, evidence 2.42
 */
function likeliestShift(scores: readonly number[]): { readonly from: number; readonly evidence: number } {
  let [from, evidence, total] = [scores.length - 1, 0, 0];
  for (let at = scores.length - 1; at >= 0; at--) {
    total += scores[at] ?? 0;
    const here = total > 0 ? (total * total) / (scores.length - at) : 0;
    if (here > evidence) [from, evidence] = [at, here];
  }
  return { from, evidence };
}
