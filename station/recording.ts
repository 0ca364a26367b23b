import type { Clock } from "../drivers/ports.ts";
import { attemptFacts, attemptOutcome } from "./attempt-record.ts";
import type { PreparedAttempt } from "./cycle/attempt.ts";
import { judgeAttempt } from "./cycle/judging.ts";
import type { Reason } from "./cycle/reason.ts";
import type { AttemptEvidence, UnitEvidence } from "./cycle/unit-context.ts";
import type { Fixture } from "./fixture.ts";
import type { Flight } from "./flight/tape-keeper.ts";
import type { StudyGuide } from "./guided-study/study-guide.ts";
import { decidedAgainst } from "./records/decided-against.ts";
import type { Disposition } from "./records/disposition.ts";
import type { AttemptSummary } from "./records/index-db.ts";
import type { OpenAttempt, Recorded, RecordStore } from "./records/store.ts";
import type { Traveller } from "./records/traveller.ts";
import type { ReferenceWatch } from "./reference-watch.ts";
import { type RetestLeft, retestLeft } from "./retest-left.ts";
import type { SameFailWatch } from "./same-fail-watch.ts";
import type { ShiftCounts } from "./shift-counts.ts";
import type { StationFile } from "./station-file.ts";

export interface RecordingParts {
  readonly file: StationFile;
  readonly clock: Clock;
  readonly fixture: Fixture;
  readonly store: Pick<
    RecordStore,
    "begin" | "commit" | "voidOpenAttempts" | "ensureHolds" | "history" | "dispositionsOf"
  >;
  readonly software: string;
  readonly references: ReferenceWatch;
  readonly sameFails: SameFailWatch;
  readonly counts: ShiftCounts;
  readonly flight: Flight | null;
  readonly study?: Pick<StudyGuide, "recorded"> | undefined;
}

/**
 * What an attempt came to, judged now. It ended as long after its start as the monotonic clock says: the computer's date may
 * be set in the middle of a test.
 */
export function outcomeOf(
  { attempt, evidence }: AttemptEvidence,
  clock: Pick<Clock, "now_s">,
  file: Pick<StationFile, "knowledge" | "flowCalibrations">,
) {
  const after_s = clock.now_s() - evidence.start_s;
  const result = judgeAttempt(attempt, evidence, file.knowledge);
  const ended = { at_ms: evidence.startedAt_ms + Math.round(after_s * 1000), after_s };
  return { outcome: attemptOutcome(attempt, evidence, result, ended, file), ended };
}

/** A finished attempt whose traveller is on disk: only now may its verdict be shown. */
export interface FinishedAttempt {
  readonly attempt: PreparedAttempt;
  readonly traveller: Traveller;
  readonly path: string;
  readonly seconds: number;
  /** Of a unit that has not passed: what the retest rule allows it now. Absent where the rule does not bind, or can't be asked. */
  readonly retest?: RetestLeft;
  /**
   * Of a unit that somebody has held or scrapped while it was tested, or of which that could not be read: what to do with it,
   * whatever was measured.
   */
  readonly against?: string;
}

/** What is to be told of an attempt once everything that follows from it is on disk. */
export interface Settled {
  readonly finished: FinishedAttempt;
  readonly held: readonly Disposition[];
  /** Of a reference piece that drifts. */
  readonly warning: string | null;
}

/** From the attempt's begin to its traveller, and what the station makes of it. */
export class Recording {
  readonly #parts: RecordingParts;
  #open: OpenAttempt | null = null;
  #motorStoodStill: string | null = null;
  /** Recorded, and not told yet. */
  #settled: Settled | null = null;
  /** A reference check that is recorded, while the units it puts in doubt could not be held yet. */
  #unsettled: FinishedAttempt | null = null;
  #stops: readonly Reason[] = [];

  constructor(parts: RecordingParts) {
    this.#parts = parts;
  }

  /** The unit before, where its motor did not start; null where a motor has run since, or somebody has looked. */
  get motorStoodStill(): string | null {
    return this.#motorStoodStill;
  }

  /** @throws RecordError */
  async begin({ attempt, evidence }: AttemptEvidence): Promise<void> {
    const { file, software, fixture, references, store } = this.#parts;
    const { inForce } = references.state(attempt.limits.model);
    const facts = attemptFacts(attempt, evidence.startedAt_ms, {
      station: file,
      software,
      identities: fixture.identities(),
      referenceCheck: inForce && {
        at: new Date(inForce.at_ms).toISOString(),
        travellers: [...inForce.travellers],
      },
    });
    this.#open = await store.begin(facts);
  }

  /** @throws RecordError; the attempt is still open then, and has no verdict */
  async record({ attempt, evidence }: AttemptEvidence): Promise<{ path: string; sha256: string }> {
    const { file, clock, store, flight, study } = this.#parts;
    if (!this.#open) throw new Error("There is no open attempt to record.");
    this.#stops = [];
    const { outcome, ended } = outcomeOf({ attempt, evidence }, clock, file);
    const tape = flight?.recorder.end();
    this.#keepWhetherMotorRan(attempt, evidence);
    const recorded = await store.commit(this.#open, outcome);
    this.#open = null;
    study?.recorded(recorded.traveller);
    if (typeof tape === "string") flight?.keeper.missed(tape);
    else if (tape) flight?.keeper.keep(tape, attempt, recorded);
    const { path, sha256, traveller } = recorded;
    const seconds = ended.after_s;
    const retest = await this.#retestLeft(attempt, traveller, ended.at_ms);
    const summary = await this.#count(recorded);
    // As late as can be: whoever holds it after this finds the verdict told.
    const against = await this.#decidedAgainst(attempt);
    const finished = {
      attempt,
      traveller,
      path,
      seconds,
      ...(retest ? { retest } : {}),
      ...(against === null ? {} : { against }),
    };
    if (attempt.reference) await this.#settleReference(attempt.reference, finished, sha256);
    else {
      this.#settled = { finished, held: [], warning: null };
      this.#countUnit(attempt, summary);
    }
    return { path, sha256 };
  }

  /** @returns what the attempt just recorded stops the station for */
  stopsAfter(): readonly Reason[] {
    return this.#stops;
  }

  /** @returns what is settled now and has not been told; null where there is nothing, or no verdict to tell */
  takeSettled(): Settled | null {
    const settled = this.#settled;
    this.#settled = null;
    return settled;
  }

  /**
   * After a fault: what could not be written is written now. A hold that is still missing keeps the station stopped.
   * @throws RecordError; Reason HOLD_NOT_WRITTEN
   */
  async recover(): Promise<void> {
    const { store, counts, references } = this.#parts;
    for (const recorded of await store.voidOpenAttempts()) {
      counts.add(recorded);
      references.interrupted(recorded.traveller);
    }
    this.#open = null;
    await this.#hold(this.#unsettled);
  }

  /** Checks whose units the program could not hold before it ended. @throws RecordError */
  ensureHolds(): Promise<readonly Disposition[]> {
    return this.#parts.store.ensureHolds();
  }

  async #settleReference(
    piece: NonNullable<PreparedAttempt["reference"]>,
    finished: FinishedAttempt,
    sha256: string,
  ): Promise<void> {
    this.#parts.references.checked(piece, finished.traveller, sha256);
    try {
      await this.#hold(finished);
    } catch (reason) {
      // The check's traveller is written: this is no attempt without a record, but the station can't go on.
      this.#stops = [reason as Reason];
    }
  }

  /** Whatever a failed check puts in doubt is on hold before anybody reads that check's verdict. */
  async #hold(finished: FinishedAttempt | null): Promise<void> {
    this.#unsettled = finished;
    try {
      const held = await this.ensureHolds();
      if (held.length > 0) await this.#parts.counts.readDoubts();
      if (finished) {
        const trend = this.#parts.references.trend(finished.attempt.serial);
        this.#settled = { finished, held, warning: trend?.warning ?? null };
      }
      this.#unsettled = null;
    } catch (error) {
      throw holdNotWritten(finished, error);
    }
  }

  /** Other programs may have decided about the unit since it was admitted. */
  async #decidedAgainst({ serial, reference, isDraft }: PreparedAttempt): Promise<string | null> {
    if (reference || isDraft) return null;
    try {
      return decidedAgainst(serial, await this.#parts.store.dispositionsOf(serial))?.sentence ?? null;
    } catch {
      return `Whether somebody has put unit ${serial} on hold can't be read: put it aside and tell the quality engineer.`;
    }
  }

  /** The attempt is recorded, whether or not its past can be read now; the next scan is refused by the rule anyway. */
  async #retestLeft(
    { serial, limits, isDraft, reference }: PreparedAttempt,
    { verdict }: Traveller,
    ended_ms: number,
  ): Promise<RetestLeft | null> {
    if (verdict === "pass" || isDraft || reference) return null;
    const { store } = this.#parts;
    try {
      const history = await store.history(serial);
      const dispositions = await store.dispositionsOf(serial);
      return retestLeft(serial, history, dispositions, limits.retest, ended_ms);
    } catch {
      return null;
    }
  }

  /** The attempt is recorded, whether or not it can be counted now; a summary reads the records anyway. */
  async #count(recorded: Recorded): Promise<AttemptSummary> {
    const { counts } = this.#parts;
    const summary = counts.add(recorded);
    await counts.readDoubts().catch(() => undefined);
    return summary;
  }

  #countUnit({ isDraft, limits }: PreparedAttempt, summary: AttemptSummary): void {
    const { references, sameFails } = this.#parts;
    if (!isDraft && summary.verdict !== "void") references.unitTested(limits.model);
    sameFails.tested(summary);
    const stop = isDraft || summary.verdict !== "fail" ? null : sameFails.reason();
    if (stop) this.#stops = [stop];
  }

  /** One motor that stands still may be its unit's; the unit after it tells. Once the station stopped for that, it begins anew. */
  #keepWhetherMotorRan({ serial }: PreparedAttempt, { fails, voids, phases }: UnitEvidence): void {
    const codes = new Set([...fails, ...voids].map(({ code }) => code));
    const hasHeld = phases.some(({ phase }) => phase === "hold");
    const ran = hasHeld || codes.has("MOTOR_STAYS_SLOW") || codes.has("MOTOR_DRAWS_TOO_MUCH");
    if (codes.has("MOTOR_DID_NOT_START")) this.#motorStoodStill = serial;
    else if (ran || codes.has("NO_MOTOR_STARTS")) this.#motorStoodStill = null;
  }
}

function holdNotWritten(finished: FinishedAttempt | null, error: unknown): Reason {
  const check = finished ? `The reference check with ${finished.attempt.serial} is recorded. ` : "";
  const why = error instanceof Error ? error.message : String(error);
  return {
    code: "HOLD_NOT_WRITTEN",
    sentence: `${check}The units that a failed check puts in doubt could not be put on hold. ${why} Send no unit on until that is mended and acknowledged.`,
  };
}
