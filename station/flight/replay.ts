import { createActor } from "xstate";
import type { Levels } from "../../drivers/ports.ts";
import { quoteRaw } from "../../drivers/raw-line.ts";
import type { Ambient, AttemptEvidence } from "../cycle/unit-context.ts";
import type { Fixture } from "../fixture.ts";
import { outcomeOf } from "../recording.ts";
import type { AttemptOutcome } from "../records/traveller.ts";
import { unitRules, wiredUnit } from "../unit-wiring.ts";
import type { ReplayCable } from "./replay-cable.ts";
import { Diverged, ReplayCycleClock } from "./replay-clock.ts";
import type { ReplayGate } from "./replay-gate.ts";
import type { TapeEvent } from "./tape-event.ts";
import type { TapeContents } from "./tape-file.ts";
import { aheadOf, sinceOpened, wholeLines } from "./tape-joint.ts";
import type { PlayedTape } from "./tape-place.ts";
import { type TapedStation, tapedStation } from "./tape-station.ts";
import { beginOf, levelWords } from "./tape-text.ts";
import { openTapedFixture, type TapedFixture } from "./taped-fixture.ts";
import { frameOnCable, framingsOf } from "./taped-frames.ts";

export interface TapeToReplay {
  readonly contents: TapeContents;
  readonly preamble: readonly TapeEvent[];
  readonly events: readonly TapeEvent[];
}

export type Replayed =
  | {
      readonly kind: "judged";
      readonly outcome: AttemptOutcome;
      /** By gauge, what it said of itself. */
      readonly identities: ReadonlyMap<string, string>;
    }
  /** What was played back went another way than the tape; `at_s` since the test began, null while connecting. */
  | { readonly kind: "diverged"; readonly why: string; readonly at_s: number | null };

/** More timers of one driver than ever run out between two events. */
const TIMERS_MOST = 200;

/**
 * Plays a tape back: its bytes through the drivers, what they make of them through the unit's cycle, and that judged as
 * it was then. Time is the tape's, event by event, so nothing depends on how fast this machine is.
 * @throws FileProblems where this program reads one of the tape's files differently
 */
export async function replayTape(tape: TapeToReplay): Promise<Replayed> {
  const station = tapedStation(tape.contents);
  return new Replay(tape, station, await openTapedFixture(station)).run();
}

class Replay {
  readonly #tape: TapeToReplay;
  readonly #station: TapedStation;
  readonly #time: { t_s: number };
  readonly #played: PlayedTape;
  readonly #gate: ReplayGate;
  readonly #cables: ReadonlyMap<string, ReplayCable>;
  readonly #fixture: Fixture;
  readonly #cycleClock: ReplayCycleClock;
  #tell: (event: unknown) => void = () => {};
  #isConnected = false;
  #hasBegun = false;
  #looks = 0;
  #begun = deferred<void>();
  #ambient = deferred<Ambient>();
  #outcome: AttemptOutcome | null = null;
  #failure: unknown = null;

  constructor(tape: TapeToReplay, station: TapedStation, taped: TapedFixture) {
    this.#tape = tape;
    this.#station = station;
    this.#time = taped.time;
    this.#played = taped.played;
    this.#gate = taped.gate;
    this.#cables = taped.cables;
    this.#fixture = taped.fixture;
    this.#cycleClock = new ReplayCycleClock(
      tape.events.flatMap((event) => (event.kind === "now" ? [event.t_s] : [])),
      tape.events.flatMap((event) => (event.kind === "wall" ? [event.wall_ms] : [])),
    );
  }

  async run(): Promise<Replayed> {
    let begin_s: number | null = null;
    try {
      await this.#connect();
      begin_s = beginOf(this.#tape.events);
      this.#resume();
      this.#startCycle();
      for (const event of this.#played.play(this.#tape.events)) {
        if (!this.#hasBegun && !("instrument" in event)) this.#begin();
        await this.#play(event);
        if (this.#outcome) break;
      }
      await drained();
      if (this.#failure) throw this.#failure;
      if (!this.#outcome) throw new Diverged("the tape is over, and the test has not ended");
      return { kind: "judged", outcome: this.#outcome, identities: this.#fixture.identities() };
    } catch (error) {
      const why = this.#failure ?? error;
      if (!(why instanceof Diverged)) throw why;
      return { kind: "diverged", why: why.message, at_s: begin_s === null ? null : this.#time.t_s - begin_s };
    }
  }

  /** As the station connected last before the attempt, moved up to the attempt's beginning. */
  async #connect(): Promise<void> {
    const { preamble, events, contents } = this.#tape;
    const connecting = this.#fixture.connect({
      guard: (isClosed) => {
        if (!isClosed) this.#tell({ type: "GUARD_OPENED" });
      },
      startPressed: () => {},
      startStuck: () => {},
      fault: (reason) => this.#tell({ type: "FAULT", reason }),
    });
    let failure: unknown = null;
    connecting.then(
      () => {
        this.#isConnected = true;
      },
      (error) => {
        failure = error;
      },
    );
    await drained();
    const connected = sinceOpened(wholeLines(preamble, this.#streaming(contents)));
    // Each by its own clock: of one that was asked seconds before the attempt others do not go back in time.
    for (const [name, ahead_s] of aheadOf(connected, events))
      if (!contents.atStart.answering.includes(name)) this.#gate.clockOf(name).ahead_s = ahead_s;
    const moved = connected.map((event) => ({ ...event, t_s: event.t_s + this.#ahead_s(event) }));
    for (const event of this.#played.play(moved)) await this.#play(event);
    await drained();
    if (failure) throw new Diverged(`the instruments could not be connected: ${messageOf(failure)}`);
    if (!this.#isConnected) throw new Diverged("the tape does not have all of the instruments' connecting");
  }

  #streaming({ instruments }: TapeContents): ReadonlySet<string> {
    const { file, profiles } = this.#station;
    return new Set(
      instruments.filter((name) => {
        const profile = profiles.get(file.gauges.find((gauge) => gauge.name === name)?.profile ?? "");
        return profile?.kind === "gauge" && profile.mode.kind === "stream";
      }),
    );
  }

  /** Between connecting and the attempt time has gone by that is not on the tape. */
  #resume(): void {
    const { memories, inputs, reading, answering } = this.#tape.contents.atStart;
    this.#gate.forgetConnecting(new Set(answering));
    this.#time.t_s = this.#tape.events[0]?.t_s ?? 0;
    for (const name of this.#cables.keys()) this.#gate.clockOf(name).ahead_s = 0;
    for (const [name, memory] of Object.entries(memories)) this.#gate.instrument(name)?.resume?.(memory);
    for (const [name, levels] of Object.entries(inputs)) this.#gate.tellLevels(name, levels);
    for (const [name, count] of Object.entries(reading)) {
      for (let k = 0; k < count; k++) this.#ask(name, null);
    }
  }

  /** What follows is the attempt's own. */
  #begin(): void {
    this.#hasBegun = true;
    this.#gate.begin();
  }

  #startCycle(): void {
    const { attempt, file } = this.#station;
    const { newestPressure_Pa, motorStoodStill } = this.#tape.contents.atStart;
    const actor = createActor(
      wiredUnit({
        fixture: this.#fixture,
        begin: () => this.#begun.promise,
        readAmbient: () =>
          file.room.kind === "entered" ? this.#ambient.promise : this.#fixture.readAmbient(),
        record: async (found: AttemptEvidence) => {
          this.#outcome = outcomeOf(found, this.#cycleClock, file).outcome;
          return { path: "", sha256: "" };
        },
      }),
      {
        clock: this.#cycleClock,
        input: {
          attempt,
          clock: this.#cycleClock,
          ...unitRules(file, {
            newestPressure_Pa: () => this.#fixture.newest("leak_pressure")?.value ?? newestPressure_Pa,
            motorStoodStill: () => motorStoodStill,
          }),
        },
      },
    );
    actor.subscribe({ error: (error) => this.#fails(error) });
    this.#tell = (event) => actor.send(event as Parameters<typeof actor.send>[0]);
    actor.start();
  }

  #fails(error: unknown): void {
    this.#failure ??= error;
  }

  async #play(event: TapeEvent): Promise<void> {
    this.#time.t_s = event.t_s - this.#ahead_s(event);
    // A reading may have its gauge's own time.
    if ("instrument" in event && event.kind !== "readings")
      this.#gate.clockOf(event.instrument).reached(event.t_s);
    this.#gate.catchUp();
    await this.#let(event);
    await drained();
    if (this.#failure) throw this.#failure;
  }

  #ahead_s(event: TapeEvent): number {
    return "instrument" in event ? this.#gate.clockOf(event.instrument).ahead_s : 0;
  }

  async #let(event: TapeEvent): Promise<void> {
    switch (event.kind) {
      case "opened":
        await this.#require(event.instrument, (cable) => cable.isOpening, "was connected");
        this.#cable(event.instrument).open();
        return;
      case "refused":
        await this.#require(event.instrument, (cable) => cable.isOpening, "was to be connected");
        this.#cable(event.instrument).refuse(event.code, event.message);
        return;
      case "heard":
        this.#cable(event.instrument).heard(event.bytes, event.t_s);
        return;
      case "sent":
        await this.#sent(event.instrument, event.bytes);
        return;
      case "lost":
        this.#cable(event.instrument).lost(event.code, event.message);
        return;
      case "shut":
        await this.#require(event.instrument, (cable) => !cable.isOpen, "was disconnected");
        return;
      case "called":
        await this.#called(event.instrument, event.levels);
        return;
      case "readings":
      case "levels":
      case "fault":
      case "ended":
        await this.#require(event.instrument, () => this.#gate.release(event), OUTCOME_WORDS[event.kind]);
        return;
      case "ran":
        // Where it isn't found, it runs when what came of it is wanted.
        this.#gate.clockOf(event.instrument).run(event.label);
        return;
      case "now":
      case "wall":
        this.#looks++;
        if (this.#cycleClock.looks < this.#looks)
          throw new Diverged("the test looked at the clock, and now does not");
        return;
      case "timer":
        if (this.#cycleClock.runOut(event.delay_ms)) return;
        throw new Diverged(
          `a time of ${event.delay_ms / 1000} s ran out in the test, and now none is running`,
        );
      case "told":
        this.#tell(event.event);
        return;
      case "given":
        if (event.what === "begun") this.#begun.resolve();
        else this.#ambient.resolve(event.value as Ambient);
        return;
    }
  }

  async #sent(instrument: string, bytes: Buffer): Promise<void> {
    const cable = this.#cable(instrument);
    if (await this.#comes(instrument, () => cable.meet(bytes))) return;
    // Asked before the attempt began, by whoever watched the gauge then.
    this.#gate
      .instrument(instrument)
      ?.readPast()
      .catch(() => undefined);
    await drained();
    // A driver may keep a silence before each question.
    if (await this.#comes(instrument, () => cable.meet(bytes))) return;
    throw new Diverged(`${instrument} was sent ${this.#shown(instrument, bytes)}, and now is not`);
  }

  async #called(instrument: string, levels: Levels | null): Promise<void> {
    if (this.#isConnected && !this.#hasBegun) {
      // Before the attempt, while something that the tape has was still under way.
      this.#ask(instrument, levels);
      return;
    }
    if (await this.#comes(instrument, () => this.#gate.meetCall(instrument, levels))) return;
    if (levels) throw new Diverged(`${instrument} was commanded ${levelWords(levels)}, and now is not`);
    // The station asks its gauges now and then, test or no test.
    this.#ask(instrument, null);
    this.#gate.meetCall(instrument, null);
  }

  #shown(instrument: string, bytes: Buffer): string {
    const framing = framingsOf(this.#station).get(instrument);
    return framing ? frameOnCable(framing, bytes, "sent") : quoteRaw(bytes.toString("latin1"));
  }

  /** @param levels null asks for a reading */
  #ask(instrument: string, levels: Levels | null): void {
    const known = this.#gate.instrument(instrument);
    const call = levels ? known?.set?.(levels) : known?.read();
    call?.catch(() => undefined);
  }

  async #require(instrument: string, hasCome: (cable: ReplayCable) => boolean, what: string): Promise<void> {
    const cable = this.#cable(instrument);
    if (await this.#comes(instrument, () => hasCome(cable))) return;
    throw new Diverged(`${instrument} ${what}, and now does not come to it`);
  }

  /** Its driver's timers run out, the one due first, until what the tape has comes of it. */
  async #comes(instrument: string, hasCome: () => boolean): Promise<boolean> {
    if (hasCome()) return true;
    const clock = this.#gate.clockOf(instrument);
    for (let k = 0; k < TIMERS_MOST; k++) {
      if (!clock.runNext()) return false;
      await drained();
      if (hasCome()) return true;
    }
    return false;
  }

  #cable(instrument: string): ReplayCable {
    const cable = this.#cables.get(instrument);
    if (!cable) throw new Diverged(`the station file on the tape has no ${instrument}`);
    return cable;
  }
}

const OUTCOME_WORDS = {
  readings: "gave a reading",
  levels: "told of its inputs",
  fault: "had a fault",
  ended: "ended a command or a question",
} as const;

/** Resolves when everything that can follow now has been done. */
function drained(): Promise<void> {
  return new Promise((resolve) => setImmediate(resolve));
}

function deferred<T>() {
  let resolve: (value: T) => void = () => {};
  const promise = new Promise<T>((given) => {
    resolve = given;
  });
  return { promise, resolve };
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
