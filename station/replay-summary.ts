import type { Characteristic } from "../limits/model.ts";
import type { Traveller } from "./records/traveller.ts";
import type { LeakFinding, NotRemeasured, Remeasured, ReplayedLeak } from "./replay-curves.ts";

export const BEFORE = ["pass", "fail", "void", "not judged"] as const;
export const AFTER = [
  "pass",
  "fail",
  "void",
  "curve too short",
  "no curve",
  "other test pressure",
  "no settle calibration",
] as const satisfies readonly (LeakFinding["verdict"] | NotRemeasured)[];

export interface ReplayedAttempt {
  readonly serial: string;
  readonly attempt: number;
  readonly started_at: string;
  readonly draft: boolean;
  readonly simulated: boolean;
  readonly before: LeakFinding | null;
  readonly after: Remeasured;
}

/**
 * What replaying would have changed of one judged leak rate; values in its unit. Each reference piece has one of its own,
 * because its certificate judges it and not the limits.
 */
export interface LeakReplay {
  /** With the limits that judged it: those replayed, or the certificate's. */
  readonly characteristic: Characteristic;
  /** Serial of the reference piece; null for units. */
  readonly piece: string | null;
  /** Attempts by recorded verdict and by what became of them. */
  readonly counts: Readonly<
    Record<(typeof BEFORE)[number], Readonly<Record<(typeof AFTER)[number], number>>>
  >;
  /** Of the attempts that were measured again. */
  readonly early: number;
  readonly grossLeaks: number;
  /** New less recorded value, of attempts where both are measured; null where none is. */
  readonly change: {
    readonly attempts: number;
    readonly median: number;
    readonly least: Extreme;
    readonly greatest: Extreme;
  } | null;
  /** Median time of the leak step, recorded and now, of attempts where both are known; null where none is. */
  readonly step_s: { readonly attempts: number; readonly before: number; readonly after: number } | null;
  /** Not more of them than are named, unless all are asked for. */
  readonly changed: readonly ReplayedAttempt[];
  readonly changedCount: number;
  /** Every attempt, where they were to be kept. */
  readonly attempts: readonly ReplayedAttempt[];
}

/** Changed attempts that are named, unless all are asked for. */
const NAMED_MOST = 1000;

export interface Extreme {
  readonly value: number;
  readonly serial: string;
}

/** Adds up replayed attempts; of each it keeps three numbers, and more only of those that change. */
export class ReplayTally {
  readonly #keepAll: boolean;
  readonly #leaks = new Map<string, OneTally>();

  /** @param keepAll whether attempts that keep their verdict are kept too */
  constructor({ keepAll }: { readonly keepAll: boolean }) {
    this.#keepAll = keepAll;
  }

  add(traveller: Traveller, leaks: readonly ReplayedLeak[]): void {
    const piece = traveller.reference?.piece ?? null;
    for (const leak of leaks) {
      const { name, lower, upper } = leak.characteristic;
      // A piece calibrated anew has another certificate.
      const judgedBy = JSON.stringify(piece === null ? [name] : [name, piece, lower, upper]);
      const tally = this.#leaks.get(judgedBy) ?? new OneTally(leak.characteristic, piece, this.#keepAll);
      this.#leaks.set(judgedBy, tally);
      tally.add(traveller, leak);
    }
  }

  /** @returns units first, then reference pieces, each in the order they came */
  leaks(): LeakReplay[] {
    const all = [...this.#leaks.values()].map((tally) => tally.result());
    return [...all.filter(({ piece }) => piece === null), ...all.filter(({ piece }) => piece !== null)];
  }
}

class OneTally {
  readonly #characteristic: Characteristic;
  readonly #piece: string | null;
  readonly #keepAll: boolean;
  readonly #counts = emptyCounts();
  readonly #changes: number[] = [];
  readonly #before_s: number[] = [];
  readonly #after_s: number[] = [];
  readonly #changed: ReplayedAttempt[] = [];
  readonly #attempts: ReplayedAttempt[] = [];
  #least: Extreme = { value: Number.POSITIVE_INFINITY, serial: "" };
  #greatest: Extreme = { value: Number.NEGATIVE_INFINITY, serial: "" };
  #changedCount = 0;
  #early = 0;
  #grossLeaks = 0;

  constructor(characteristic: Characteristic, piece: string | null, keepAll: boolean) {
    this.#characteristic = characteristic;
    this.#piece = piece;
    this.#keepAll = keepAll;
  }

  add(traveller: Traveller, { before, after, beforeStep_s }: ReplayedLeak): void {
    const { serial, attempt, started_at, draft, station } = traveller;
    const replayed: ReplayedAttempt = {
      serial,
      attempt: attempt.number,
      started_at,
      draft,
      simulated: station.simulated,
      before,
      after,
    };
    if (this.#keepAll) this.#attempts.push(replayed);
    const became = after.kind === "not measured" ? after.why : after.finding.verdict;
    this.#counts[before?.verdict ?? "not judged"][became]++;
    if (after.kind === "not measured") return;
    if (after.kind === "gross leak") this.#grossLeaks++;
    else if (after.early) this.#early++;
    if (before && before.verdict !== after.finding.verdict) {
      this.#changedCount++;
      if (this.#keepAll || this.#changed.length < NAMED_MOST) this.#changed.push(replayed);
    }
    if (before) this.#addChange(serial, before, after.finding);
    if (beforeStep_s !== null && after.step_s !== null) {
      this.#before_s.push(beforeStep_s);
      this.#after_s.push(after.step_s);
    }
  }

  /** An estimate has no uncertainty, and its change would say nothing. */
  #addChange(serial: string, before: LeakFinding, after: LeakFinding): void {
    if (before.value === null || after.value === null) return;
    if (before.uncertainty === null || after.uncertainty === null) return;
    const value = after.value - before.value;
    this.#changes.push(value);
    if (value < this.#least.value) this.#least = { value, serial };
    if (value > this.#greatest.value) this.#greatest = { value, serial };
  }

  result(): LeakReplay {
    const attempts = this.#changes.length;
    const timed = this.#after_s.length;
    return {
      characteristic: this.#characteristic,
      piece: this.#piece,
      counts: this.#counts,
      early: this.#early,
      grossLeaks: this.#grossLeaks,
      change:
        attempts === 0
          ? null
          : { attempts, median: median(this.#changes), least: this.#least, greatest: this.#greatest },
      step_s:
        timed === 0
          ? null
          : { attempts: timed, before: median(this.#before_s), after: median(this.#after_s) },
      changed: this.#changed,
      changedCount: this.#changedCount,
      attempts: this.#attempts,
    };
  }
}

function emptyCounts(): Record<(typeof BEFORE)[number], Record<(typeof AFTER)[number], number>> {
  const row = () => ({
    pass: 0,
    fail: 0,
    void: 0,
    "curve too short": 0,
    "no curve": 0,
    "other test pressure": 0,
    "no settle calibration": 0,
  });
  return { pass: row(), fail: row(), void: row(), "not judged": row() };
}

function median(values: readonly number[]): number {
  const sorted = Float64Array.from(values).sort();
  const middle = (sorted.length - 1) / 2;
  return ((sorted[Math.floor(middle)] ?? Number.NaN) + (sorted[Math.ceil(middle)] ?? Number.NaN)) / 2;
}
