import { type Actor, createActor, fromCallback, fromPromise } from "xstate";
import type { Clock } from "../drivers/ports.ts";
import type { LeakStep, ModelLimits } from "../limits/model.ts";
import { flowChannelOf } from "./cycle/airflow-readings.ts";
import { NOT_CALIBRATED, type PreparedAttempt } from "./cycle/attempt.ts";
import { gaugeUncertaintyOf } from "./cycle/gauge-comparison.ts";
import type { Reason } from "./cycle/reason.ts";
import { refuseCalibration, refuseStart } from "./cycle/refusals.ts";
import type { Ambient, LeakEvidence, UnitOutput } from "./cycle/unit-context.ts";
import { unitMachine } from "./cycle/unit-machine.ts";
import { instrumentFault } from "./cycle/unit-reasons.ts";
import type { Fixture } from "./fixture.ts";
import type { WatchedDecay } from "./measure/study/settle-study.ts";
import { NOBODY } from "./people/person.ts";
import { type RoomAir, roomAir } from "./room-air.ts";
import type { StationFile } from "./station-file.ts";

export interface DecayBenchParts {
  readonly file: StationFile;
  readonly fixture: Fixture;
  readonly clock: Clock;
}

export interface DecayOrder {
  readonly limits: ModelLimits;
  readonly step: LeakStep;
  /** Serial of the body on the fixture. */
  readonly piece: string;
  readonly watch_s: number;
}

/** A body filled, shut off, watched and vented. */
export interface DecayRun extends WatchedDecay {
  /** On the clock, so that runs stand in their order in time. */
  readonly started_s: number;
  readonly ambient: Ambient;
}

export type Watched =
  | { readonly kind: "watched"; readonly run: DecayRun }
  /** Outputs are safe; nothing of the run counts. */
  | { readonly kind: "stopped"; readonly reasons: readonly Reason[] };

/**
 * Fills bodies and watches their pressure for a study, by the same state machine that tests units: guard, abort, faults
 * and safe outputs are the same, but no traveller is written. Nobody else may drive the fixture meanwhile.
 */
export class DecayBench {
  readonly #parts: DecayBenchParts;
  readonly #room: RoomAir;
  #running: Actor<typeof unitMachine> | null = null;
  #stopped: Reason | null = null;
  #wake: (() => void) | null = null;

  private constructor(parts: DecayBenchParts) {
    this.#parts = parts;
    this.#room = roomAir(parts.file, parts.fixture);
  }

  /** @throws DriverError when an instrument can't be reached */
  static async open(parts: DecayBenchParts): Promise<DecayBench> {
    const bench = new DecayBench(parts);
    await parts.fixture.connect({
      guard: (isClosed) => {
        if (!isClosed) bench.#running?.send({ type: "GUARD_OPENED" });
      },
      startPressed: () => {},
      startStuck: () => {},
      fault: (reason) => bench.#fault(reason),
    });
    return bench;
  }

  /** Fills the body, shuts it off, watches it so long and vents it. */
  async watch(order: DecayOrder): Promise<Watched> {
    const refused = await this.#refusals(order.step);
    if (refused.length > 0) return { kind: "stopped", reasons: refused };
    const output = await this.#run(order);
    const { start_s: started_s, ambient, leaks, phases, fails, voids } = output.evidence;
    const reasons = [...voids, ...fails];
    const fill = phases.find(({ phase }) => phase === "fill");
    const [leak] = leaks;
    if (reasons.length > 0) return { kind: "stopped", reasons };
    if (!ambient || !fill || !leak) throw new Error("A run without a reason to stop has no curve.");
    const fill_s = fill.end_s - fill.start_s;
    return { kind: "watched", run: { started_s, fill_s, ambient, ...curveFrom(leak, fill.end_s) } };
  }

  /** Lets the vented body rest, or returns early when the study is stopped. */
  rest(seconds: number): Promise<void> {
    if (this.#stopped) return Promise.resolve();
    const { clock } = this.#parts;
    return new Promise((resolve) => {
      const timer = clock.setTimeout(() => resolve(), seconds * 1000);
      this.#wake = () => {
        clock.clearTimeout(timer);
        resolve();
      };
    });
  }

  /** Ends a running run, outputs safe, and lets no other begin. */
  stop(reason: Reason): void {
    this.#stopped ??= reason;
    this.#running?.send({ type: "ABORT", reason });
    this.#wake?.();
  }

  /** Commands safe outputs past the state machine, for a program that is about to end. */
  makeSafe(): Promise<void> {
    return this.#parts.fixture.makeSafe();
  }

  async close(): Promise<void> {
    await this.#parts.fixture.makeSafe();
    await this.#parts.fixture.close();
  }

  #fault(reason: Reason): void {
    this.#stopped ??= reason;
    this.#running?.send({ type: "FAULT", reason });
    this.#wake?.();
  }

  async #refusals(step: LeakStep): Promise<readonly Reason[]> {
    const { file, fixture, clock } = this.#parts;
    if (this.#stopped) return [this.#stopped];
    const overdue = refuseCalibration(file.gauges, new Date(clock.wall_ms()).toISOString().slice(0, 10));
    if (overdue.length > 0) return overdue;
    await this.#untilVented(step);
    if (this.#stopped) return [this.#stopped];
    let pressure_Pa: number;
    try {
      pressure_Pa = await fixture.read("leak_pressure");
    } catch (error) {
      return [instrumentFault(error)];
    }
    const reasons = refuseStart({
      isGuardClosed: fixture.isGuardClosed(),
      pressure_Pa,
      ventedWithin_Pa: step.ventedWithin_Pa,
      // Nothing is written while a study runs.
      freeDisk_bytes: Number.POSITIVE_INFINITY,
      leastFreeDisk_bytes: 0,
    });
    return [...reasons, ...this.#room.refusals(clock.wall_ms())];
  }

  /** Returns when vented, when the time is over or when the gauge fails; the reading that follows tells which. */
  #untilVented({ ventedWithin_Pa, ventLongest_s }: LeakStep): Promise<void> {
    const { fixture, clock } = this.#parts;
    return new Promise((resolve) => {
      const timer = clock.setTimeout(() => {
        stop();
        resolve();
      }, ventLongest_s * 1000);
      const stop = fixture.observe({ watch: "vented", within_Pa: ventedWithin_Pa }, () => {
        clock.clearTimeout(timer);
        resolve();
      });
    });
  }

  async #run(order: DecayOrder): Promise<UnitOutput> {
    const { file, fixture, clock } = this.#parts;
    const actor = createActor(
      unitMachine.provide({
        actors: {
          begin: fromPromise(async () => {}),
          readAmbient: fromPromise(() => this.#room.read()),
          command: fromPromise(({ input }) => fixture.command(input)),
          observe: fromCallback(({ input, sendBack }) => fixture.observe(input, sendBack)),
          record: fromPromise(async () => ({ path: "", sha256: "" })),
        },
      }),
      {
        clock,
        input: {
          attempt: watchingAttempt(order),
          clock,
          orificeOutputs: file.orificeOutputs,
          stepConforms: () => true,
          newLook: () => null,
          newestPressure_Pa: () => fixture.newest("leak_pressure")?.value ?? null,
          motorStoodStill: () => null,
          scatterFloor: (channel) => file.knowledge.channels.get(channel)?.absolute ?? 0,
          gaugeUncertainty: gaugeUncertaintyOf(file.knowledge),
          flowChannel: flowChannelOf(file.knowledge.flowFrom),
        },
      },
    );
    this.#running = actor;
    try {
      return await new Promise<UnitOutput>((resolve, reject) => {
        actor.subscribe({
          complete: () => {
            const { output } = actor.getSnapshot();
            if (output) resolve(output);
            else reject(new Error("A run ended without an output."));
          },
          error: reject,
        });
        actor.start();
      });
    } finally {
      this.#running = null;
    }
  }
}

/** The model's leak step alone, watched from the moment of shut-off and to the end. */
function watchingAttempt({ limits, step, piece, watch_s }: DecayOrder): PreparedAttempt {
  const watching: LeakStep = { ...step, settle_s: 0, measureLongest_s: watch_s, earlyVerdict: null };
  return {
    serial: piece,
    parts: {},
    limits: { ...limits, steps: [watching] },
    number: 1,
    kind: "first",
    isDraft: true,
    approvedBy: null,
    who: NOBODY,
    missingParts: [],
    retestReasons: [],
    retestReason: null,
    calibration: NOT_CALIBRATED,
    reference: null,
  };
}

/** Both phases as one curve, its times from the moment of shut-off; the second begins with the reading that ended the first. */
function curveFrom(leak: LeakEvidence, shutOff_s: number): Pick<DecayRun, "t_s" | "pressure_Pa"> {
  const t_s: number[] = [];
  const pressure_Pa: number[] = [];
  let last_us = Number.NEGATIVE_INFINITY;
  for (const curve of [leak.settle, leak.measure]) {
    for (const [i, t_us] of (curve?.t_us ?? []).entries()) {
      if (t_us <= last_us) continue;
      last_us = t_us;
      t_s.push(t_us / 1e6 - shutOff_s);
      pressure_Pa.push((curve?.pressure_mPa[i] ?? Number.NaN) / 1000);
    }
  }
  return { t_s, pressure_Pa };
}
