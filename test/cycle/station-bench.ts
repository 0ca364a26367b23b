import { createActor, fromCallback, fromPromise } from "xstate";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import type { PreparedAttempt } from "../../station/cycle/attempt.ts";
import type { Reason } from "../../station/cycle/reason.ts";
import { stationMachine } from "../../station/cycle/station-machine.ts";
import type {
  Identified,
  StartAnswer,
  StationEvent,
  StationNews,
} from "../../station/cycle/station-setup.ts";
import { unitMachine } from "../../station/cycle/unit-machine.ts";
import { ABORTED } from "../../station/cycle/unit-reasons.ts";
import type { Outcome } from "../../station/cycle/watchers.ts";
import type { SignedIn } from "../../station/people/person.ts";
import { attemptOn, pod } from "./unit-bench.ts";

export const marsh: SignedIn = { name: "A. Marsh", role: "inspector", how: "badge" };
export const okoro: SignedIn = { name: "E. Okoro", role: "engineer", how: "badge" };
export const silent: Reason = { code: "INSTRUMENT_FAULT", sentence: "The gauge is silent." };
export const sameFails: Reason = { code: "SAME_FAIL_IN_A_ROW", sentence: "Three failed." };

/** Something the machine waits for, which the test decides. */
class Awaited<T> {
  #settle: { resolve: (value: T) => void; reject: (error: unknown) => void } | null = null;

  readonly ask = (): Promise<T> =>
    new Promise<T>((resolve, reject) => {
      this.#settle = { resolve, reject };
    });

  async resolve(value: T): Promise<void> {
    this.#settle?.resolve(value);
    await settled();
  }

  async reject(error: unknown): Promise<void> {
    this.#settle?.reject(error);
    await settled();
  }
}

/** The station's machine alone; what it waits for comes true when the test says so. */
export class StationBench {
  readonly identify = new Awaited<Identified>();
  readonly checkStart = new Awaited<StartAnswer>();
  readonly begin = new Awaited<void>();
  readonly recover = new Awaited<void>();
  readonly news: StationNews[] = [];
  referenceInForce = true;
  /** What the next recorded attempt stops the station for. */
  stopsAfter: readonly Reason[] = [];
  readonly #actor;

  constructor({ signsPeopleIn = true } = {}) {
    const clock = new VirtualClock();
    const unit = unitMachine.provide({
      actors: {
        begin: fromPromise(this.begin.ask),
        command: fromPromise(async () => {}),
        observe: fromCallback(({ input, sendBack }) => {
          const outcome: Outcome =
            input.watch === "vented" ? { kind: "vented", at_s: 0 } : { kind: "reached" };
          sendBack({ type: "OUTCOME", outcome });
        }),
        record: fromPromise(async () => ({ path: "1.json", sha256: "0" })),
      },
    });
    this.#actor = createActor(
      stationMachine.provide({
        actors: {
          unit,
          identify: fromPromise(this.identify.ask),
          checkStart: fromPromise(this.checkStart.ask),
          recover: fromPromise(this.recover.ask),
        },
      }),
      {
        clock,
        input: {
          clock,
          orificeOutputs: new Map(),
          stepConforms: () => true,
          newLook: () => null,
          newestPressure_Pa: () => 0,
          motorStoodStill: () => null,
          scatterFloor: () => 0,
          gaugeUncertainty: () => 10,
          flowChannel: null,
          signsPeopleIn,
          stopsAfter: () => this.stopsAfter,
          referenceInForce: () => this.referenceInForce,
        },
      },
    );
    this.#actor.on("*", (news: StationNews) => this.news.push(news));
    this.#actor.start();
  }

  get state(): string {
    return String(this.#actor.getSnapshot().value);
  }

  /** What is armed or under test. */
  get attempt(): PreparedAttempt | null {
    return this.#actor.getSnapshot().context.attempt;
  }

  get who(): SignedIn | null {
    return this.#actor.getSnapshot().context.who;
  }

  /** What was told since the last time it was asked: "armed", or "refused BUSY". */
  told(): string[] {
    return this.news
      .splice(0)
      .map((news) =>
        news.type === "refused" ? `refused ${news.reasons.map(({ code }) => code).join()}` : news.type,
      );
  }

  send(event: StationEvent): void {
    this.#actor.send(event);
  }

  signIn(who: SignedIn = marsh): this {
    this.send({ type: "SIGN_IN", who });
    return this;
  }

  /** Scanned and found to be this attempt. */
  async arm(more: Partial<PreparedAttempt> = {}): Promise<this> {
    this.signIn();
    this.send(SCAN);
    const who = this.who ?? marsh;
    await this.identify.resolve({ kind: "prepared", attempt: { ...attemptOn(pod), who, ...more } });
    return this;
  }

  async test(): Promise<this> {
    await this.arm();
    this.send({ type: "START" });
    await this.checkStart.resolve({ kind: "start", attempt: this.attempt as PreparedAttempt });
    return this;
  }

  /** The test is aborted, made safe and recorded. */
  async abort(): Promise<void> {
    this.send({ type: "ABORT", reason: ABORTED });
    await this.begin.resolve();
  }

  fault(reason: Reason = silent): this {
    this.send({ type: "FAULT", reason });
    return this;
  }
}

export const SCAN: StationEvent = { type: "SCAN", serial: pod.serialExample, parts: {} };

/** Lets the machine hear of promises that have settled. */
async function settled(): Promise<void> {
  for (let i = 0; i < 100; i++) await Promise.resolve();
}
