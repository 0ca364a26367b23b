import { createActor, fromPromise, type SnapshotFrom } from "xstate";
import type { Clock } from "../drivers/ports.ts";
import { Admission } from "./admission.ts";
import { Announcements, type StationListener } from "./announcements.ts";
import type { PreparedAttempt } from "./cycle/attempt.ts";
import type { Reason } from "./cycle/reason.ts";
import type { DuePiece, ReferenceState } from "./cycle/reference-due.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import type { Scan } from "./cycle/scan.ts";
import { stationMachine } from "./cycle/station-machine.ts";
import type { StationNews } from "./cycle/station-setup.ts";
import type { unitMachine } from "./cycle/unit-machine.ts";
import { type UnitProgress, unitProgress } from "./cycle/unit-progress.ts";
import { ABORTED, PROGRAM_STOPPED } from "./cycle/unit-reasons.ts";
import { EarlyWarningWatch } from "./early-warning-watch.ts";
import type { Fixture, InstrumentConversation } from "./fixture.ts";
import type { Flight } from "./flight/tape-keeper.ts";
import type { StudyGuide, StudyNow } from "./guided-study/study-guide.ts";
import { IdleWatch } from "./idle-watch.ts";
import { InstrumentReach } from "./instrument-reach.ts";
import { type Judging, LimitsInForce, type TakenUp } from "./limits-in-force.ts";
import type { SignedIn } from "./people/person.ts";
import type { EarlyWarning } from "./quality/early-warning/early-warning.ts";
import type { ReferenceTrend } from "./quality/reference-trend.ts";
import { Recording } from "./recording.ts";
import type { Disposition } from "./records/disposition.ts";
import type { StationEventDraft } from "./records/station-event.ts";
import { ReferenceWatch } from "./reference-watch.ts";
import { roomAir } from "./room-air.ts";
import { SameFailWatch } from "./same-fail-watch.ts";
import { ShiftCounts } from "./shift-counts.ts";
import type { StationFile } from "./station-file.ts";
import type { Records } from "./station-records.ts";
import { unitRules, wiredUnit } from "./unit-wiring.ts";
import type { DayCount } from "./yield/day-count.ts";
import type { ShiftSummary } from "./yield/shift-summary.ts";

export interface StationParts {
  readonly file: StationFile;
  /** What judges to begin with: limit files, and by model what has been learned of it. */
  readonly judging: Judging;
  /** Looks between units whether that has changed. */
  readonly lookAtLimits: (now: Judging) => Promise<TakenUp | null>;
  readonly clock: Clock;
  readonly fixture: Fixture;
  readonly store: Records;
  readonly software: string;
  /** Unapproved limits may be run; their travellers say so and never count. */
  readonly allowDrafts: boolean;
  /** Keeps every attempt's raw conversation; null: nothing is taped. */
  readonly flight: Flight | null;
  /** Measured instead of production, piece by piece. */
  readonly study?: StudyGuide | undefined;
  /** Gives everything else its turn, in what takes long and nobody waits for. */
  readonly pause: () => Promise<void>;
  /** For the event that says that the station was opened. */
  readonly atOpening?: Pick<StationEventDraft, "in_force" | "head">;
}

/** One running station: the state machines wired to its fixture, limits and records. */
export class StationController {
  readonly #parts: StationParts;
  readonly #references: ReferenceWatch;
  readonly #sameFails: SameFailWatch;
  readonly #counts: ShiftCounts;
  readonly #recording: Recording;
  readonly #announcements: Announcements;
  readonly #earlyWarning: EarlyWarningWatch;
  readonly #reach: InstrumentReach;
  readonly #limits: LimitsInForce;
  readonly #actor;
  #idleWatch: IdleWatch | null = null;

  private constructor(parts: StationParts) {
    this.#parts = parts;
    const { file, clock, fixture, store } = parts;
    const { referenceCheck, shifts } = file;
    this.#references = new ReferenceWatch({ check: referenceCheck, shifts, clock });
    this.#sameFails = new SameFailWatch(file.stopAfterSameFails);
    this.#counts = new ShiftCounts({ file, clock, store });
    this.#recording = new Recording({
      ...parts,
      references: this.#references,
      sameFails: this.#sameFails,
      counts: this.#counts,
      clock: parts.flight?.recorder.cycleClock ?? clock,
    });
    this.#announcements = new Announcements({
      store,
      takeSettled: () => this.#recording.takeSettled(),
      faulted: () => this.#references.faulted(),
    });
    this.#earlyWarning = new EarlyWarningWatch({
      store,
      shifts,
      pause: parts.pause,
      failed: (sentence) => this.#announcements.warn(sentence),
      signalled: (warnings) => this.#announcements.drifting(warnings),
    });
    this.#announcements.listen({
      finished: ({ attempt }) => {
        if (!attempt.reference && !attempt.study && !attempt.isDraft)
          this.#earlyWarning.look(attempt.limits.model);
      },
    });
    this.#limits = new LimitsInForce(parts.judging, parts.lookAtLimits, (taken) =>
      this.#announcements.limitsChanged(taken),
    );
    this.#reach = new InstrumentReach({
      ...parts,
      state: () => this.state(),
      guardOpened: () => this.#actor.send({ type: "GUARD_OPENED" }),
      startPressed: () => this.start(),
      fault: (reason) => this.#actor.send({ type: "FAULT", reason }),
    });
    const room = roomAir(file, fixture);
    const admission = new Admission({ ...parts, limits: this.#limits, room, references: this.#references });
    const flight = parts.flight?.recorder ?? null;
    const unit = wiredUnit({
      fixture,
      begin: async (input) => {
        this.#followPhases(input.attempt);
        await this.#recording.begin(input);
        flight?.given("begun");
      },
      readAmbient: async () => {
        const ambient = await room.read();
        if (file.room.kind === "entered") flight?.given("ambient", ambient);
        return ambient;
      },
      record: (input) => this.#recording.record(input),
    });
    const cycleClock = flight?.cycleClock ?? clock;
    this.#actor = createActor(
      stationMachine.provide({
        actors: {
          unit,
          identify: fromPromise(({ input }) => admission.identify(input.scan, input.who)),
          checkStart: fromPromise(async ({ input }) => {
            const answer = await admission.atStart(input);
            if (answer.kind === "start") this.#beginTape();
            return answer;
          }),
          recover: fromPromise(() => this.#recover()),
        },
      }),
      {
        clock: cycleClock,
        input: {
          clock: cycleClock,
          ...unitRules(file, {
            newestPressure_Pa: () => this.#newestPressure_Pa(),
            motorStoodStill: () => this.#recording.motorStoodStill,
          }),
          signsPeopleIn: file.signIn.kind === "people",
          stopsAfter: () => this.#recording.stopsAfter(),
          referenceInForce: () => this.dueReferences().length === 0,
        },
      },
    );
  }

  /**
   * Reads what happened before, holds what an earlier run could not, connects to every instrument, makes the outputs safe
   * and waits for a sign-in.
   * @returns the station, and the holds made now
   * @throws DriverError when an instrument can't be reached, RecordError when the records can't be read or written
   */
  static async open(
    parts: StationParts,
  ): Promise<{ readonly station: StationController; readonly held: readonly Disposition[] }> {
    const station = new StationController(parts);
    const held = await station.#recording.ensureHolds();
    await station.#references.load(parts.store);
    await station.#counts.load();
    const isNoted = await station.#sameFails.load(parts.store);
    await station.#reach.connect();
    station.#actor.on("*", (news: StationNews) => station.#hear(news));
    station.#actor.start();
    station.#announcements.opened(parts.atOpening);
    const reason = station.#sameFails.reason();
    if (reason && isNoted) station.#announcements.faultedBefore(reason);
    if (reason) station.#actor.send({ type: "FAULT", reason });
    station.#watchWhileIdle();
    for (const { limits } of station.models()) station.#earlyWarning.look(limits.model);
    return { station, held };
  }

  /** Everything the station has to tell, from now on. */
  listen(listener: Partial<StationListener>): void {
    this.#announcements.listen(listener);
  }

  /** Tells whoever listens of something to look into soon. */
  warn(sentence: string): void {
    this.#announcements.warn(sentence);
  }

  #hear(news: StationNews): void {
    if (news.type === "armed") this.#parts.fixture.expectStart();
    this.#announcements.hear(news);
  }

  /** Signs in, or takes over from whoever is signed in; never in the middle of a test. */
  signIn(who: SignedIn): void {
    this.#actor.send({ type: "SIGN_IN", who });
  }

  signOut(): void {
    this.#actor.send({ type: "SIGN_OUT" });
  }

  /** Somebody tried to sign in and was not let; kept among the station's events. */
  signInRefused(sentence: string): void {
    this.#announcements.signInRefused(sentence);
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
    this.#abort(ABORTED);
  }

  /** Ends the running test because the program is about to end. */
  abortForStop(): void {
    this.#reach.end();
    this.#abort(PROGRAM_STOPPED);
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
    return this.#references.state(model, ahead_s);
  }

  /**
   * Reference pieces to be tested before production may go on, for all models on the line, and why.
   * @param ahead_s those that will be due so much later, too
   */
  dueReferences(ahead_s = 0): readonly DuePiece[] {
    // No production is tested meanwhile; its checks are due when it goes on.
    if (this.#parts.study) return [];
    const models = this.#limits.models.filter(({ notApproved }) => notApproved === null);
    return this.#references.due(
      models.map(({ limits }) => limits.model),
      ahead_s,
    );
  }

  /** How a reference piece's readings go; null before there are any. */
  referenceTrend(serial: string): ReferenceTrend | null {
    return this.#references.trend(serial);
  }

  /** Characteristics that no longer are what they were; kept in memory. */
  earlyWarnings(): readonly EarlyWarning[] {
    return this.#parts.study ? [] : this.#earlyWarning.standing;
  }

  /** Where the study is that is measured here; null where production is tested. */
  study(): StudyNow | null {
    return this.#parts.study?.now() ?? null;
  }

  /** The limit files that judge now. */
  models(): readonly ModelInForce[] {
    return this.#limits.models;
  }

  /** Whether the I/O block has confirmed safe outputs and still answers for them. */
  areOutputsSafe(): boolean {
    return this.#parts.fixture.areOutputsSafe;
  }

  /** The last lines between the station and each instrument. */
  conversations(): readonly InstrumentConversation[] {
    return this.#parts.fixture.conversations();
  }

  /** What today came to, by the plant's calendar day; kept in memory. */
  dayCount(): DayCount {
    return this.#counts.dayCount();
  }

  /**
   * What the shift came to so far: the present one of the station file's, else the calendar day.
   * @throws RecordError when the records can't be read
   */
  async shiftSummary(): Promise<ShiftSummary> {
    await this.#announcements.written();
    await this.#earlyWarning.looked();
    return { ...(await this.#counts.summary()), warnings: this.earlyWarnings() };
  }

  /** Commands safe outputs past the state machine, for a program that is about to end. */
  makeSafe(): Promise<void> {
    return this.#parts.fixture.makeSafe();
  }

  /** Stops with safe outputs; a running test must have been aborted before. */
  async close(): Promise<void> {
    this.#idleWatch?.stop();
    this.#actor.stop();
    this.#parts.fixture.stopListening();
    await this.#parts.fixture.makeSafe();
    await this.#parts.fixture.close();
    await this.#parts.flight?.keeper.close();
    await this.#earlyWarning.looked();
    await this.#announcements.closed();
  }

  #watchWhileIdle(): void {
    const { clock, fixture } = this.#parts;
    this.#idleWatch = new IdleWatch({
      clock,
      state: () => this.state(),
      ask: async () => {
        // Commands beside the station release and hold units too; that they can't be read is for who needs them to say.
        await this.#counts.readDoubts().catch(() => undefined);
        // Whoever stands at the station sees it before the next scan; the scan asks again, and says why it can't.
        await this.#limits.lookAgain().catch(() => undefined);
        return fixture.askGauges();
      },
      fault: (reason) => this.#actor.send({ type: "FAULT", reason }),
    });
  }

  #abort(reason: Reason): void {
    this.#parts.flight?.recorder.told({ type: "ABORT", reason });
    this.#actor.send({ type: "ABORT", reason });
  }

  #newestPressure_Pa(): number | null {
    return this.#parts.fixture.newest("leak_pressure")?.value ?? null;
  }

  #beginTape(): void {
    this.#parts.flight?.recorder.begin({
      newestPressure_Pa: this.#newestPressure_Pa(),
      motorStoodStill: this.#recording.motorStoodStill,
    });
  }

  async #recover(): Promise<void> {
    this.#announcements.recovering();
    await this.#reach.connectPatiently();
    await this.#recording.recover();
    const { faults } = this.#announcements;
    await this.#announcements.acknowledged();
    if (faults.some(({ code }) => code === "SAME_FAIL_IN_A_ROW")) this.#sameFails.acknowledged();
  }

  #followPhases(attempt: PreparedAttempt): void {
    let last: UnitProgress | null = null;
    this.#actor.system.get("unit")?.subscribe(() => {
      const now = this.progress();
      if (!now || (now.phase === last?.phase && now.step === last.step && now.point === last.point)) return;
      last = now;
      this.#announcements.phase(attempt, now);
    });
  }
}
