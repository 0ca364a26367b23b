import { createActor, fromCallback, fromPromise, type SnapshotFrom } from "xstate";
import { type Clock, DriverError } from "../drivers/ports.ts";
import { attemptFacts, attemptOutcome, type RecordContext } from "./attempt-record.ts";
import type { ModelCalibrations } from "./calibrations-in-force.ts";
import { flowChannelOf } from "./cycle/airflow-readings.ts";
import { NOT_CALIBRATED, type PreparedAttempt, type ReferencePiece } from "./cycle/attempt.ts";
import { lookAtLeak } from "./cycle/early-look.ts";
import { type AttemptResult, judgeAttempt, stepConforms } from "./cycle/judging.ts";
import type { Reason } from "./cycle/reason.ts";
import { type PieceCheck, type ReferenceState, referenceState } from "./cycle/reference-check.ts";
import {
  findModel,
  type ModelInForce,
  refuseCalibration,
  refuseLimits,
  refuseParts,
  refuseReference,
  refuseStart,
  refuseUncalibrated,
} from "./cycle/refusals.ts";
import type { Scan } from "./cycle/scan.ts";
import { stationMachine } from "./cycle/station-machine.ts";
import type { Identified, StartAnswer, StationNews } from "./cycle/station-setup.ts";
import type { AttemptEvidence, Recorded, UnitEvidence } from "./cycle/unit-context.ts";
import { unitMachine } from "./cycle/unit-machine.ts";
import { type UnitProgress, unitProgress } from "./cycle/unit-progress.ts";
import { ABORTED, PROGRAM_STOPPED } from "./cycle/unit-reasons.ts";
import type { Fixture, InstrumentConversation } from "./fixture.ts";
import type { SignedIn } from "./people/person.ts";
import type { ReferenceTrend } from "./quality/reference-trend.ts";
import type { Disposition } from "./records/disposition.ts";
import { type NextAttempt, nextAttempt } from "./records/retest.ts";
import type { OpenAttempt, RecordStore } from "./records/store.ts";
import type { Traveller } from "./records/traveller.ts";
import { type RoomAir, roomAir } from "./room-air.ts";
import { inCalibration, type StationFile } from "./station-file.ts";
import type { DayCount } from "./yield/day-count.ts";
import type { ShiftSummary } from "./yield/shift-summary.ts";

/** What the station needs of its records while it runs. */
export type Records = Pick<RecordStore, "begin" | "commit" | "voidOpenAttempts" | "history" | "freeBytes">;

export interface StationParts {
  readonly file: StationFile;
  readonly models: readonly ModelInForce[];
  /** What has been learned of each model and is in force, by model. */
  readonly calibrations: ReadonlyMap<string, ModelCalibrations>;
  readonly clock: Clock;
  readonly fixture: Fixture;
  readonly store: Records;
  readonly software: string;
  /** Unapproved limits may be run; their travellers say so and never count. */
  readonly allowDrafts: boolean;
}

/** A finished attempt whose traveller is on disk: only now may its verdict be shown. */
export interface FinishedAttempt {
  readonly attempt: PreparedAttempt;
  readonly traveller: Traveller;
  readonly path: string;
  readonly seconds: number;
}

export interface StationListener {
  signedIn(who: SignedIn): void;
  /** By themselves, by somebody who took over, or because the program ends. */
  signedOut(who: SignedIn): void;
  /** Told again whenever the armed attempt has changed: a part added, a reason chosen, another person. */
  armed(attempt: PreparedAttempt): void;
  started(attempt: PreparedAttempt): void;
  /** The running test has entered a phase, such as "settle", or gone to another point. */
  phase(attempt: PreparedAttempt, phase: UnitProgress["phase"], progress: UnitProgress): void;
  refused(serial: string, reasons: readonly Reason[]): void;
  finished(finished: FinishedAttempt): void;
  /** Units are in doubt since a reference check failed, and are on hold. */
  held(disposition: Disposition): void;
  /** Something to look into soon, in a sentence; the station goes on. */
  warned(sentence: string): void;
  /** All reasons the station is stopped for now; told again when one comes in addition. */
  faulted(reasons: readonly Reason[]): void;
  recovered(): void;
}

const UNDER_WAY: ReadonlySet<string> = new Set(["checking", "testing", "recovering", "faulted"]);
const RECONNECT_TRIES = 4;
const RECONNECT_PAUSE_MS = 500;

/** Reference pieces have no retest rule: they may be tested as often as somebody likes. */
const ANY_NUMBER = { afterFail: Number.POSITIVE_INFINITY, afterVoid: Number.POSITIVE_INFINITY };

const NEVER_CALIBRATED: ModelCalibrations = { ...NOT_CALIBRATED, problems: [] };

/** One running station: the state machines wired to its fixture, limits and records. */
export class StationController {
  readonly #parts: StationParts;
  readonly #room: RoomAir;
  readonly #newestChecks = new Map<string, PieceCheck>();
  readonly #listeners: Partial<StationListener>[] = [];
  readonly #actor;
  #open: OpenAttempt | null = null;
  #motorStoodStill: string | null = null;
  /** Recorded, and not told yet. */
  #finished: FinishedAttempt | null = null;

  private constructor(parts: StationParts) {
    this.#parts = parts;
    const { file, clock, fixture } = parts;
    this.#room = roomAir(file, fixture);
    const unit = unitMachine.provide({
      actors: {
        begin: fromPromise(({ input }) => this.#begin(input)),
        readAmbient: fromPromise(() => this.#room.read()),
        command: fromPromise(({ input }) => fixture.command(input)),
        observe: fromCallback(({ input, sendBack }) => fixture.observe(input, sendBack)),
        record: fromPromise(({ input }) => this.#record(input)),
      },
    });
    this.#actor = createActor(
      stationMachine.provide({
        actors: {
          unit,
          identify: fromPromise(({ input }) => this.#identify(input.scan, input.who)),
          checkStart: fromPromise(async ({ input: attempt }): Promise<StartAnswer> => {
            const reasons = await this.#checkStart(attempt);
            return reasons.length === 0 ? { kind: "start", attempt } : { kind: "not_yet", attempt, reasons };
          }),
          recover: fromPromise(() => this.#recover()),
        },
      }),
      {
        clock,
        input: {
          clock,
          orificeOutputs: file.orificeOutputs,
          stepConforms: (attempt, evidence, step) => stepConforms(attempt, evidence, step, file.knowledge),
          newLook: (attempt, evidence, step) => lookAtLeak(attempt, evidence, step, file.knowledge),
          newestPressure_Pa: () => fixture.newest("leak_pressure")?.value ?? null,
          motorStoodStill: () => this.#motorStoodStill,
          scatterFloor: (channel) => file.knowledge.channels.get(channel)?.absolute ?? 0,
          flowChannel: flowChannelOf(file.knowledge.flowFrom),
          signsPeopleIn: false,
          stopsAfter: () => [],
          referenceInForce: () => this.dueReferences().length === 0,
        },
      },
    );
  }

  /**
   * Connects to every instrument, makes the outputs safe and waits for a sign-in.
   * @throws DriverError when an instrument can't be reached, RecordError when the records can't be read
   */
  static async open(parts: StationParts): Promise<StationController> {
    const station = new StationController(parts);
    await station.#readChecks();
    await station.#connect();
    station.#actor.on("*", (news: StationNews) => station.#tell(news));
    station.#actor.start();
    return station;
  }

  /** Everything the station has to tell, from now on. */
  listen(listener: Partial<StationListener>): void {
    this.#listeners.push(listener);
  }

  #tell(news: StationNews): void {
    if (news.type === "armed") this.#parts.fixture.expectStart();
    if (news.type !== "finished") {
      for (const listener of this.#listeners) tellOne(listener, news);
      return;
    }
    // An attempt without a traveller has no verdict to tell; the fault that follows says why.
    const finished = this.#finished;
    this.#finished = null;
    if (news.output.kind !== "recorded" || !finished) return;
    for (const listener of this.#listeners) listener.finished?.(finished);
  }

  /** Signs in, or takes over from whoever is signed in; never in the middle of a test. */
  signIn(who: SignedIn): void {
    this.#actor.send({ type: "SIGN_IN", who });
  }

  signOut(): void {
    this.#actor.send({ type: "SIGN_OUT" });
  }

  /** Somebody tried to sign in and was not let; kept among the station's events. */
  signInRefused(_sentence: string): void {
    throw new Error("Being written.");
  }

  scan(scan: Scan): void {
    this.#actor.send({ type: "SCAN", ...scan });
  }

  /** Tracked parts of the armed unit, scanned after its serial. */
  addParts(parts: Readonly<Record<string, string>>): void {
    this.#actor.send({ type: "PART", parts });
  }

  /** Why the armed unit is tested again: index, from 0, of its `retestReasons`. */
  chooseRetestReason(index0: number): void {
    this.#actor.send({ type: "REASON", index: index0 });
  }

  start(): void {
    this.#actor.send({ type: "START" });
  }

  /** The inspector ends the running test. */
  abort(): void {
    this.#actor.send({ type: "ABORT", reason: ABORTED });
  }

  /** Ends the running test because the program is about to end. */
  abortForStop(): void {
    this.#actor.send({ type: "ABORT", reason: PROGRAM_STOPPED });
  }

  acknowledge(): void {
    this.#actor.send({ type: "ACKNOWLEDGE" });
  }

  /** What the station is doing, as the machine's state names: "ready", "armed", "testing", "faulted"... */
  state(): string {
    return String(this.#actor.getSnapshot().value);
  }

  /** Where the running test is; null when no test runs. */
  progress(): UnitProgress | null {
    const unit: SnapshotFrom<typeof unitMachine> | undefined = this.#actor.system.get("unit")?.getSnapshot();
    if (!unit || this.state() !== "testing") return null;
    return unitProgress(unit, this.#parts.clock.now_s());
  }

  /** Newest reading of a channel, SI, for showing only; null when it is not good or older than this. */
  newest(channel: string, within_s = 2): number | null {
    const reading = this.#parts.fixture.newest(channel);
    if (reading?.quality !== "good" || this.#parts.clock.now_s() - reading.t_s > within_s) return null;
    return reading.value;
  }

  /**
   * Whether the station is proven for a model: by that model's reference pieces.
   * @param ahead_s so much later than now
   */
  referenceState(model: string, ahead_s = 0): ReferenceState {
    const { file, clock } = this.#parts;
    if (!file.referenceCheck) return { due: [], inForce: null };
    const pieces = file.referenceCheck.pieces.filter((piece) => piece.model === model);
    const at_ms = clock.wall_ms() + ahead_s * 1000;
    return referenceState(pieces, this.#newestChecks, file.referenceCheck.every_s, at_ms);
  }

  /**
   * Reference pieces to be tested before production may go on, for all models on the line.
   * @param ahead_s those that will be due so much later, too
   */
  dueReferences(ahead_s = 0): readonly ReferencePiece[] {
    return this.#parts.models
      .filter((model) => model.notApproved === null)
      .flatMap(({ limits }) => this.referenceState(limits.model, ahead_s).due);
  }

  /** The last lines between the station and each instrument. */
  conversations(): readonly InstrumentConversation[] {
    return this.#parts.fixture.conversations();
  }

  /** How a reference piece's readings go; null before there are any. */
  referenceTrend(_serial: string): ReferenceTrend | null {
    throw new Error("Being written.");
  }

  /** What today came to, by the plant's calendar day. */
  dayCount(): DayCount {
    throw new Error("Being written.");
  }

  /** What the shift came to so far: the present one of the station file's, else the calendar day. */
  shiftSummary(): Promise<ShiftSummary> {
    throw new Error("Being written.");
  }

  /** Commands safe outputs past the state machine, for a program that is about to end. */
  makeSafe(): Promise<void> {
    return this.#parts.fixture.makeSafe();
  }

  /** Stops with safe outputs; a running test must have been aborted before. */
  async close(): Promise<void> {
    this.#actor.stop();
    this.#parts.fixture.stopListening();
    await this.#parts.fixture.makeSafe();
    await this.#parts.fixture.close();
  }

  async #connect(): Promise<void> {
    await this.#parts.fixture.connect({
      guard: (isClosed) => {
        if (!isClosed) this.#actor.send({ type: "GUARD_OPENED" });
      },
      startPressed: () => this.start(),
      // A test that runs is not the button's business, and a fault that is told need not be told again.
      startStuck: (reason) => {
        if (!UNDER_WAY.has(this.state())) this.#actor.send({ type: "FAULT", reason });
      },
      fault: (reason) => this.#actor.send({ type: "FAULT", reason }),
    });
  }

  async #recover(): Promise<void> {
    await this.#connectPatiently();
    await this.#parts.store.voidOpenAttempts();
    this.#open = null;
  }

  /** A port that was just closed, or a cable just put back, may need a moment. */
  async #connectPatiently(): Promise<void> {
    for (let left = RECONNECT_TRIES - 1; ; left--) {
      try {
        return await this.#connect();
      } catch (error) {
        if (left <= 0 || !(error instanceof DriverError)) throw error;
        await new Promise<void>((resolve) => {
          this.#parts.clock.setTimeout(() => resolve(), RECONNECT_PAUSE_MS);
        });
      }
    }
  }

  async #identify(scan: Scan, who: SignedIn): Promise<Identified> {
    const { file, models, clock, allowDrafts, store } = this.#parts;
    if (scan.misread) return { kind: "refused", reasons: scan.misread };
    const today = calendarDate(clock.wall_ms());
    const piece = file.referenceCheck?.pieces.find((candidate) => candidate.serial === scan.serial) ?? null;
    const found = piece ? modelOf(piece, models) : findModel(scan.serial, models);
    if (found.kind === "refused") return { kind: "refused", reasons: [found.reason] };
    const { model } = found;
    const calibration = this.#parts.calibrations.get(model.limits.model) ?? NEVER_CALIBRATED;
    const isDraft = model.notApproved !== null && allowDrafts;
    const history = await store.history(scan.serial);
    const next: NextAttempt = nextAttempt(scan.serial, history, piece ? ANY_NUMBER : model.limits.retest, {
      draft: isDraft,
    });
    const reasons = [
      ...refuseLimits(model, today, allowDrafts),
      ...refuseCalibration(inCalibration(file), today),
      ...this.#room.refusals(clock.wall_ms()),
      ...refuseUncalibrated(model.limits, calibration, file.knowledge.fixtureVolume_m3),
      ...(piece || isDraft ? [] : refuseReference(this.referenceState(model.limits.model).due)),
      ...(piece ? [] : refuseParts(scan.parts, model.limits)),
      ...(next.allowed ? [] : [{ code: next.code, sentence: next.sentence }]),
    ];
    if (!next.allowed || reasons.length > 0) return { kind: "refused", reasons };
    return {
      kind: "prepared",
      attempt: {
        serial: scan.serial,
        parts: scan.parts,
        limits: model.limits,
        number: next.attempt,
        kind: next.kind,
        isDraft,
        approvedBy: model.approvedBy,
        who,
        missingParts: [],
        retestReasons: [],
        retestReason: null,
        calibration,
        reference: piece,
      },
    };
  }

  async #checkStart(attempt: PreparedAttempt): Promise<readonly Reason[]> {
    const { fixture, store, file, clock } = this.#parts;
    const stuck = fixture.startRefusal();
    if (stuck) return [stuck];
    const leak = attempt.limits.steps.find((step) => step.kind === "leak");
    const ventedWithin_Pa = leak?.kind === "leak" ? leak.ventedWithin_Pa : Number.POSITIVE_INFINITY;
    // After a stop in mid-test the fixture may still be emptying: that is no reason to send the inspector away.
    if (leak?.kind === "leak") await this.#waitUntilVented(ventedWithin_Pa, leak.ventLongest_s);
    const reasons = refuseStart({
      isGuardClosed: fixture.isGuardClosed(),
      pressure_Pa: await fixture.read("leak_pressure"),
      ventedWithin_Pa,
      freeDisk_bytes: await store.freeBytes(),
      leastFreeDisk_bytes: file.leastFreeDisk_bytes,
    });
    return [...reasons, ...this.#room.refusals(clock.wall_ms())];
  }

  /** Returns when vented, when the time is over or when the gauge fails; the reading that follows tells which. */
  #waitUntilVented(within_Pa: number, longest_s: number): Promise<void> {
    const { fixture, clock } = this.#parts;
    return new Promise((resolve) => {
      const timer = clock.setTimeout(() => {
        stop();
        resolve();
      }, longest_s * 1000);
      const stop = fixture.observe({ watch: "vented", within_Pa }, () => {
        clock.clearTimeout(timer);
        resolve();
      });
    });
  }

  async #begin({ attempt, evidence }: AttemptEvidence): Promise<void> {
    this.#followPhases(attempt);
    this.#open = await this.#parts.store.begin(
      attemptFacts(attempt, evidence.startedAt_ms, this.#recordContext(attempt)),
    );
  }

  #followPhases(attempt: PreparedAttempt): void {
    let last: UnitProgress | null = null;
    this.#actor.system.get("unit")?.subscribe(() => {
      const now = this.progress();
      if (!now || (now.phase === last?.phase && now.step === last.step && now.point === last.point)) return;
      last = now;
      for (const listener of this.#listeners) listener.phase?.(attempt, now.phase, now);
    });
  }

  async #record({ attempt, evidence }: AttemptEvidence): Promise<Recorded> {
    const { file, clock, store } = this.#parts;
    if (!this.#open) throw new Error("There is no open attempt to record.");
    const seconds = clock.now_s() - evidence.start_s;
    const result: AttemptResult = judgeAttempt(attempt, evidence, file.knowledge);
    this.#keepWhetherMotorRan(attempt, evidence);
    const ended = { at_ms: clock.wall_ms(), after_s: seconds };
    const outcome = attemptOutcome(attempt, evidence, result, ended, file);
    const { path, sha256, traveller } = await store.commit(this.#open, outcome);
    this.#open = null;
    this.#finished = { attempt, traveller, path, seconds };
    if (attempt.reference) this.#keepCheck(attempt.reference, traveller, sha256);
    return { path, sha256 };
  }

  /** One motor that stands still may be its unit's; the unit after it tells. Once the station stopped for that, it begins anew. */
  #keepWhetherMotorRan({ serial }: PreparedAttempt, { fails, voids, phases }: UnitEvidence): void {
    const codes = new Set([...fails, ...voids].map(({ code }) => code));
    const hasHeld = phases.some(({ phase }) => phase === "hold");
    const ran = hasHeld || codes.has("MOTOR_STAYS_SLOW") || codes.has("MOTOR_DRAWS_TOO_MUCH");
    if (codes.has("MOTOR_DID_NOT_START")) this.#motorStoodStill = serial;
    else if (ran || codes.has("NO_MOTOR_STARTS")) this.#motorStoodStill = null;
  }

  #recordContext(attempt: PreparedAttempt): RecordContext {
    const { file, software, fixture } = this.#parts;
    const { inForce } = this.referenceState(attempt.limits.model);
    return {
      station: file,
      software,
      identities: fixture.identities(),
      referenceCheck: inForce && {
        at: new Date(inForce.at_ms).toISOString(),
        travellers: [...inForce.travellers],
      },
    };
  }

  #keepCheck(piece: ReferencePiece, traveller: Traveller, sha256: string): void {
    if (traveller.verdict === "void" || traveller.draft) return;
    const at_ms = Date.parse(traveller.ended_at ?? traveller.started_at);
    this.#newestChecks.set(piece.serial, { at_ms, sha256, hasPassed: traveller.verdict === "pass" });
  }

  /** Checks made before the program was started still count: they are in the records. */
  async #readChecks(): Promise<void> {
    for (const piece of this.#parts.file.referenceCheck?.pieces ?? []) {
      const history = await this.#parts.store.history(piece.serial);
      const newest = history
        .filter((it) => it.recordKind === "reference" && it.verdict !== "void" && !it.draft)
        .at(-1);
      if (!newest) continue;
      const at_ms = Date.parse(newest.ended_at ?? newest.started_at);
      this.#newestChecks.set(piece.serial, {
        at_ms,
        sha256: newest.sha256,
        hasPassed: newest.verdict === "pass",
      });
    }
  }
}

function tellOne(listener: Partial<StationListener>, news: Exclude<StationNews, { type: "finished" }>): void {
  switch (news.type) {
    case "signed_in":
      if (news.before) listener.signedOut?.(news.before);
      listener.signedIn?.(news.who);
      break;
    case "signed_out":
      listener.signedOut?.(news.who);
      break;
    case "refused":
      listener.refused?.(news.serial, news.reasons);
      break;
    case "armed":
      listener.armed?.(news.attempt);
      break;
    case "started":
      listener.started?.(news.attempt);
      break;
    case "faulted":
      listener.faulted?.(news.reasons);
      break;
    case "recovered":
      listener.recovered?.();
      break;
  }
}

function modelOf(piece: ReferencePiece, models: readonly ModelInForce[]): ReturnType<typeof findModel> {
  const model = models.find(({ limits }) => limits.model === piece.model);
  if (model) return { kind: "found", model };
  return {
    kind: "refused",
    reason: {
      code: "UNKNOWN_SERIAL",
      sentence: `Reference piece ${piece.serial} belongs to model ${piece.model}, which has no limit file. Correct the station file.`,
    },
  };
}

/** The plant's calendar day, as people write it in the files. */
function calendarDate(wall_ms: number): string {
  const date = new Date(wall_ms);
  const two = (part: number) => String(part).padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}
