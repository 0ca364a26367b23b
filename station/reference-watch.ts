import type { Clock } from "../drivers/ports.ts";
import type { ReferencePiece } from "./cycle/attempt.ts";
import { stopsStation } from "./cycle/reason.ts";
import {
  type DuePiece,
  type PieceCheck,
  type ReferenceRules,
  type ReferenceState,
  referenceState,
} from "./cycle/reference-due.ts";
import { type ReferenceReading, type ReferenceTrend, referenceTrend } from "./quality/reference-trend.ts";
import type { Traveller } from "./records/traveller.ts";
import { shiftAt } from "./shift-times.ts";

/** What the records say of an attempt, as far as it matters here. */
interface PastAttempt {
  readonly sequence: number;
  readonly sha256: string;
  readonly recordKind: "unit" | "reference";
  readonly serial: string;
  readonly model: string;
  readonly verdict: "pass" | "fail" | "void";
  readonly draft: boolean;
  readonly started_at: string;
  readonly ended_at: string | null;
  readonly reference: ReferenceReading | null;
  /** Why it did not pass. */
  readonly codes: readonly string[];
}

/** Where the watch finds what happened before the program was started. */
export interface WatchedRecords {
  /** Every attempt of a serial, in the order in which they were recorded. */
  history(serial: string): Promise<readonly PastAttempt[]>;
  /** Recorded after this one, in that order; and the events since, whatever the clock said. */
  attemptsAfter(sequence: number): Promise<readonly PastAttempt[]>;
  eventsAfter(
    sequence: number,
  ): Promise<readonly { readonly event: string; readonly after_traveller: number }[]>;
}

export interface ReferenceWatchSettings {
  /** Null: the station runs without reference checks, and nothing is ever due. */
  readonly check: (ReferenceRules & { readonly pieces: readonly ReferencePiece[] }) | null;
  /** Local begins such as "06:00", ascending; empty where the station file has none. */
  readonly shifts: readonly string[];
  readonly clock: Pick<Clock, "wall_ms">;
}

/** A piece's newest valid check, in the order of the records, and what has happened since. */
interface Watched {
  check: PieceCheck | null;
  readings: ReferenceReading[];
}

/**
 * Knows which reference pieces must be tested before production goes on, and why. A void check proves nothing: the one before
 * does not stay in force for it, or whoever sees a wrong reading could call it off. Drafts count for nothing. What it knows is
 * in the records, in their order and not by their dates, and a restart changes none of it.
 */
export class ReferenceWatch {
  readonly #settings: ReferenceWatchSettings;
  readonly #watched = new Map<string, Watched>();

  constructor(settings: ReferenceWatchSettings) {
    this.#settings = settings;
    for (const { serial } of settings.check?.pieces ?? []) {
      this.#watched.set(serial, { check: null, readings: [] });
    }
  }

  /** Reads what was checked, tested and gone wrong before. Once, before anything else is asked. */
  async load(records: WatchedRecords): Promise<void> {
    const newest: { readonly piece: ReferencePiece; readonly past: PastAttempt }[] = [];
    for (const piece of this.#pieces) {
      const history = await records.history(piece.serial);
      const valid = history.filter((it) => it.recordKind === "reference" && isValid(it));
      const past = valid.at(-1);
      if (!past) continue;
      newest.push({ piece, past });
      this.#of(piece.serial).readings = valid.flatMap(({ reference }) => reference ?? []);
    }
    if (newest.length === 0) return;
    const oldest = Math.min(...newest.map(({ past }) => past.sequence));
    const attempts = await records.attemptsAfter(oldest);
    const events = await records.eventsAfter(oldest);
    const faults = events.filter(({ event }) => event === "fault");
    for (const { piece, past } of newest) {
      const at_ms = Date.parse(past.ended_at ?? past.started_at);
      const later = attempts.filter(({ sequence }) => sequence > past.sequence);
      const units = later.filter((it) => it.recordKind === "unit" && it.model === piece.model);
      const checks = later.filter((it) => it.recordKind === "reference" && it.serial === piece.serial);
      this.#of(piece.serial).check = {
        at_ms,
        sha256: past.sha256,
        hasPassed: past.verdict === "pass",
        unitsSince: units.filter(isValid).length,
        hasFaultedSince:
          faults.some(({ after_traveller }) => after_traveller >= past.sequence) || later.some(endedInFault),
        wasVoidSince: checks.some(cameToNothing),
        wasClockPutBack: later.some(({ started_at }) => isBefore(Date.parse(started_at), at_ms)),
      };
    }
  }

  /**
   * Whether the station is proven for a model: by that model's pieces.
   * @param ahead_s so much later than now
   */
  state(model: string, ahead_s = 0): ReferenceState {
    const { check, shifts, clock } = this.#settings;
    if (!check) return { due: [], inForce: null, until_ms: null, unitsLeft: null };
    const now_ms = clock.wall_ms();
    this.#keepWhetherPutBack(now_ms);
    const newest = new Map(
      [...this.#watched].flatMap(([serial, it]) => (it.check ? [[serial, it.check] as const] : [])),
    );
    const at_ms = now_ms + ahead_s * 1000;
    const shift = shifts.length > 0 ? shiftAt(shifts, at_ms) : null;
    const pieces = check.pieces.filter((piece) => piece.model === model);
    return referenceState(pieces, newest, check, { at_ms, shift });
  }

  /**
   * Pieces to be tested before production may go on, in the station file's order within each model.
   * @param ahead_s those that will be due so much later, too
   */
  due(models: readonly string[], ahead_s = 0): readonly DuePiece[] {
    return models.flatMap((model) => this.state(model, ahead_s).due);
  }

  /** A unit of the model has been judged: pass or fail, no draft. */
  unitTested(model: string): void {
    this.#change((check, piece) =>
      piece.model === model ? { ...check, unitsSince: check.unitsSince + 1 } : check,
    );
  }

  /** The station has faulted, with whatever reason. */
  faulted(): void {
    this.#change((check) => ({ ...check, hasFaultedSince: true }));
  }

  /** An attempt of which nobody saw the end was found, and is recorded as a void one. */
  interrupted({ kind, serial, draft }: Pick<Traveller, "kind" | "serial" | "draft">): void {
    this.faulted();
    if (kind === "reference" && !draft) this.#cameToNothing(serial);
  }

  /** A piece was tested and recorded, with whatever verdict: a draft changes nothing. */
  checked(piece: ReferencePiece, traveller: Traveller, sha256: string): void {
    if (cameToNothing(traveller)) this.#cameToNothing(piece.serial);
    if (!isValid(traveller)) return;
    const watched = this.#of(piece.serial);
    watched.check = {
      at_ms: Date.parse(traveller.ended_at ?? traveller.started_at),
      sha256,
      hasPassed: traveller.verdict === "pass",
      unitsSince: 0,
      hasFaultedSince: false,
      wasVoidSince: false,
      wasClockPutBack: false,
    };
    if (!traveller.reference) return;
    const { measured, certified_value, tolerance, unit } = traveller.reference;
    watched.readings.push({ measured, certified: certified_value, tolerance, unit });
  }

  /** How the piece's readings go; null for no piece of this station, or one without a valid reading. */
  trend(serial: string): ReferenceTrend | null {
    return referenceTrend(serial, this.#watched.get(serial)?.readings ?? []);
  }

  get #pieces(): readonly ReferencePiece[] {
    return this.#settings.check?.pieces ?? [];
  }

  #of(serial: string): Watched {
    const watched = this.#watched.get(serial);
    if (!watched) throw new Error(`${serial} is no reference piece of this station.`);
    return watched;
  }

  /** Once seen, it stays so: when the clock gets there again, it is still not known how long ago the check was. */
  #keepWhetherPutBack(now_ms: number): void {
    this.#change((check) => (isBefore(now_ms, check.at_ms) ? { ...check, wasClockPutBack: true } : check));
  }

  #cameToNothing(serial: string): void {
    this.#change((check, piece) => (piece.serial === serial ? { ...check, wasVoidSince: true } : check));
  }

  #change(changed: (check: PieceCheck, piece: ReferencePiece) => PieceCheck): void {
    for (const piece of this.#pieces) {
      const watched = this.#of(piece.serial);
      if (watched.check) watched.check = changed(watched.check, piece);
    }
  }
}

/** A time server puts a clock back by less, and no check is the worse for it. */
const PUT_BACK_LEAST_ms = 2000;

function isBefore(time_ms: number, check_ms: number): boolean {
  return time_ms < check_ms - PUT_BACK_LEAST_ms;
}

/** Voids have measured nothing, and drafts never count. */
function isValid({ verdict, draft }: Pick<PastAttempt, "verdict" | "draft">): boolean {
  return verdict !== "void" && !draft;
}

function cameToNothing({ verdict, draft }: Pick<PastAttempt, "verdict" | "draft">): boolean {
  return verdict === "void" && !draft;
}

/** The program may have been stopped before it could note the fault, which the traveller tells of, too; or in mid-test. */
function endedInFault({ codes }: PastAttempt): boolean {
  return codes.some((code) => code === "INTERRUPTED" || stopsStation({ code }));
}
