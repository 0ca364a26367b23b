import { assign, fromCallback, fromPromise, setup } from "xstate";
import type { Clock, Levels } from "../../drivers/ports.ts";
import type { AirflowPoint, AirflowStep, LeakStep, Step } from "../../limits/model.ts";
import type { PreparedAttempt } from "./attempt.ts";
import type { Reason } from "./reason.ts";
import type { AirflowSamples, CurveSamples, Observation, Outcome } from "./watchers.ts";

/** Source off, vent open, motor off, no orifice open: what every way out of a test commands. */
export const SAFE_LEVELS: Levels = { source: false, isolate: false, vent: true, motor: false };

/** How long the safe state may take to be seen (pressure near ambient) before the fault says so. */
const SAFE_SEEN_WITHIN_MS = 10_000;
/** A curve is the stream's business; this much later than asked means the stream has stopped. */
const CURVE_GRACE_MS = 2_000;
/** A body that can't be filled empties fast: half a second shows how fast. */
const GROSS_ESTIMATE_S = 0.5;
/** A source below this part of the test pressure while filling is the source's fault, not the unit's. */
const SOURCE_HEALTHY_PART = 0.95;

export type PhaseName = "fill" | "settle" | "measure" | "gross" | "vent" | "run_up" | "hold" | "coast";

export interface PhaseRecord {
  readonly step: string;
  readonly phase: PhaseName;
  readonly point?: string;
  readonly start_s: number;
  readonly end_s: number;
}

/** What the steps yielded; judging turns it into characteristics. */
export interface LeakEvidence {
  readonly step: string;
  readonly settle?: CurveSamples;
  readonly measure?: CurveSamples;
  /** Decay after a fill that never reached its pressure. */
  readonly gross?: CurveSamples;
}

export interface AirflowEvidence {
  readonly step: string;
  readonly point: string;
  readonly samples: AirflowSamples;
}

export interface Ambient {
  readonly temperature_K: number;
  readonly pressure_Pa: number;
  readonly relativeHumidity: number;
}

export interface UnitInput {
  readonly attempt: PreparedAttempt;
  readonly clock: Pick<Clock, "now_s" | "wall_ms">;
  /** Output name per orifice name; null for an orifice that opens nothing (closed inlet). */
  readonly orificeOutputs: ReadonlyMap<string, string | null>;
  /** Whether the characteristics of a finished step conform. */
  readonly stepConforms: (attempt: PreparedAttempt, evidence: UnitEvidence, step: Step) => boolean;
}

/** Everything an attempt has found, for judging and for the record. */
export interface UnitEvidence {
  readonly startedAt_ms: number;
  readonly start_s: number;
  readonly ambient: Ambient | null;
  readonly leaks: readonly LeakEvidence[];
  readonly airflow: readonly AirflowEvidence[];
  readonly phases: readonly PhaseRecord[];
  /** Failures found by a phase itself, not by a limit. */
  readonly fails: readonly Reason[];
  /** Why there is no valid measurement. */
  readonly voids: readonly Reason[];
}

export interface AttemptEvidence {
  readonly attempt: PreparedAttempt;
  readonly evidence: UnitEvidence;
}

export interface Recorded {
  readonly path: string;
  readonly sha256: string;
}

export type UnitOutput =
  | { readonly kind: "recorded"; readonly evidence: UnitEvidence; readonly recorded: Recorded }
  | { readonly kind: "not_recorded"; readonly evidence: UnitEvidence; readonly error: unknown };

interface UnitContext extends UnitInput {
  readonly steps: readonly Step[];
  readonly stepIndex: number;
  readonly pointIndex: number;
  readonly evidence: UnitEvidence;
  readonly phase: { readonly name: PhaseName; readonly start_s: number } | null;
  readonly sourcePressure_Pa: number | null;
  readonly drawn_W: number | null;
  readonly recorded: Recorded | null;
  readonly error: unknown;
}

export type UnitEvent =
  | { readonly type: "OUTCOME"; readonly outcome: Outcome }
  | { readonly type: "NEWEST"; readonly channel: string; readonly value: number }
  | { readonly type: "FAULT"; readonly reason: Reason }
  | { readonly type: "ABORT" }
  | { readonly type: "GUARD_OPENED" };

function unwired(name: string): never {
  throw new Error(`The unit machine's actor "${name}" is not wired.`);
}

const ABORTED: Reason = { code: "ABORTED", sentence: "The test was aborted by the inspector." };
const GUARD_OPENED: Reason = {
  code: "GUARD_OPENED",
  sentence: "The guard was opened during the test. Close it and test the unit again.",
};
const VENT_NOT_COMPLETED: Reason = {
  code: "VENT_NOT_COMPLETED",
  sentence:
    "The fixture did not vent. Keep the guard closed, vent by hand by the local procedure, then acknowledge.",
};
const MOTOR_STILL_RUNNING: Reason = {
  code: "MOTOR_STILL_RUNNING",
  sentence:
    "The motor still draws power after it was switched off. Isolate the mains by the local procedure and have the contactor checked.",
};
const NOT_STEADY: Reason = {
  code: "NOT_STEADY",
  sentence:
    "Suction and power did not become steady in time. Check hose and plug on the fixture, then test the unit again.",
};

/**
 * One attempt on one unit: opens the attempt, runs the limit file's steps phase by phase, makes the fixture safe,
 * records. It commands and waits through its actors only; time is the clock it is started with.
 */
export const unitMachine = setup({
  types: {
    input: {} as UnitInput,
    context: {} as UnitContext,
    events: {} as UnitEvent,
    output: {} as UnitOutput,
  },
  actors: {
    /** Makes the open attempt durable before anything moves. */
    begin: fromPromise<void, AttemptEvidence>(async () => unwired("begin")),
    readAmbient: fromPromise<Ambient>(async () => unwired("readAmbient")),
    /** Resolves when the I/O block has confirmed the levels. */
    command: fromPromise<void, Levels>(async () => unwired("command")),
    /** Sends OUTCOME once, NEWEST on the way, FAULT when an instrument fails or its readings can't be trusted. */
    observe: fromCallback<UnitEvent, Observation>(() => unwired("observe")),
    /** Judges and writes the traveller; resolves only when it is on disk. */
    record: fromPromise<Recorded, AttemptEvidence>(async () => unwired("record")),
  },
  delays: {
    fillLongest: ({ context }) => leakStep(context).fillLongest_s * 1000,
    settle: ({ context }) => leakStep(context).settle_s * 1000 + CURVE_GRACE_MS,
    measureLongest: ({ context }) => leakStep(context).measureLongest_s * 1000 + CURVE_GRACE_MS,
    grossLongest: GROSS_ESTIMATE_S * 1000 + CURVE_GRACE_MS,
    ventLongest: ({ context }) => leakStep(context).ventLongest_s * 1000,
    runUpLongest: ({ context }) => airflowStep(context).runUpLongest_s * 1000,
    holdLongest: ({ context }) => airflowPoint(context).holdLongest_s * 1000,
    coastLongest: ({ context }) => airflowStep(context).coastLongest_s * 1000,
    safeSeenWithin: SAFE_SEEN_WITHIN_MS,
  },
  guards: {
    alreadyVoid: ({ context }) => context.evidence.voids.length > 0,
    noStepLeft: ({ context }) => context.stepIndex >= context.steps.length,
    isLeakStep: ({ context }) => context.steps[context.stepIndex]?.kind === "leak",
    pointsLeft: ({ context }) => context.pointIndex + 1 < airflowStep(context).points.length,
    sourceHealthy: ({ context }) => {
      const { testPressure_Pa } = leakStep(context);
      return (context.sourcePressure_Pa ?? 0) / testPressure_Pa >= SOURCE_HEALTHY_PART;
    },
    motorDraws: ({ context }) => (context.drawn_W ?? 0) >= airflowStep(context).runningAbove_W,
    hasMotor: ({ context }) => context.steps.some((step) => step.kind === "airflow"),
    stopsHere: ({ context }) => {
      const step = context.steps[context.stepIndex];
      return (
        step?.kind === "leak" &&
        step.ifFailed === "stop" &&
        !context.stepConforms(context.attempt, context.evidence, step)
      );
    },
  },
  actions: {
    startPhase: assign(({ context }, params: { name: PhaseName }) => ({
      phase: { name: params.name, start_s: context.clock.now_s() },
      sourcePressure_Pa: null,
      drawn_W: null,
    })),
    endPhase: assign(({ context }) => {
      if (!context.phase) return {};
      const point = context.phase.name === "hold" ? { point: airflowPoint(context).name } : {};
      const record: PhaseRecord = {
        step: currentStep(context).name,
        phase: context.phase.name,
        ...point,
        start_s: context.phase.start_s - context.evidence.start_s,
        end_s: context.clock.now_s() - context.evidence.start_s,
      };
      return { phase: null, evidence: { ...context.evidence, phases: [...context.evidence.phases, record] } };
    }),
    keepNewest: assign(({ event }) => {
      if (event.type !== "NEWEST") return {};
      if (event.channel === "source_pressure") return { sourcePressure_Pa: event.value };
      if (event.channel === "power") return { drawn_W: event.value };
      return {};
    }),
    keepCurve: assign(({ context, event }, params: { as: "settle" | "measure" | "gross" }) => {
      if (event.type !== "OUTCOME" || event.outcome.kind !== "curve") return {};
      const step = currentStep(context).name;
      const before = context.evidence.leaks.find((leak) => leak.step === step) ?? { step };
      const leaks = [
        ...context.evidence.leaks.filter((leak) => leak !== before),
        { ...before, [params.as]: event.outcome.curve },
      ];
      return { evidence: { ...context.evidence, leaks } };
    }),
    keepPoint: assign(({ context, event }) => {
      if (event.type !== "OUTCOME" || event.outcome.kind !== "steady") return {};
      const point = {
        step: currentStep(context).name,
        point: airflowPoint(context).name,
        samples: event.outcome.samples,
      };
      return { evidence: { ...context.evidence, airflow: [...context.evidence.airflow, point] } };
    }),
    addVoid: assign(({ context }, params: Reason) => ({
      evidence: { ...context.evidence, voids: [...context.evidence.voids, params] },
    })),
    addFail: assign(({ context }, params: Reason) => ({
      evidence: { ...context.evidence, fails: [...context.evidence.fails, params] },
    })),
    addEventReason: assign(({ context, event }) => {
      if (event.type !== "FAULT" || isKnown(event.reason, context.evidence.voids)) return {};
      return { evidence: { ...context.evidence, voids: [...context.evidence.voids, event.reason] } };
    }),
    nextStep: assign(({ context }) => ({ stepIndex: context.stepIndex + 1, pointIndex: 0 })),
    nextPoint: assign(({ context }) => ({ pointIndex: context.pointIndex + 1 })),
  },
}).createMachine({
  id: "unit",
  context: ({ input }) => ({
    ...input,
    steps: stepsOf(input.attempt),
    stepIndex: 0,
    pointIndex: 0,
    evidence: {
      startedAt_ms: input.clock.wall_ms(),
      start_s: input.clock.now_s(),
      ambient: null,
      leaks: [],
      airflow: [],
      phases: [],
      fails: [],
      voids: [],
    },
    phase: null,
    sourcePressure_Pa: null,
    drawn_W: null,
    recorded: null,
    error: null,
  }),
  initial: "opening",
  output: ({ context }) =>
    context.recorded
      ? { kind: "recorded", evidence: context.evidence, recorded: context.recorded }
      : { kind: "not_recorded", evidence: context.evidence, error: context.error },
  states: {
    /** The attempt is on disk before a valve moves: whatever happens from here on, it will have a traveller. */
    opening: {
      invoke: {
        src: "begin",
        input: ({ context }) => ({ attempt: context.attempt, evidence: context.evidence }),
        onDone: [{ guard: "alreadyVoid", target: "safing" }, { target: "testing" }],
        onError: { target: "notRecorded", actions: assign({ error: ({ event }) => event.error }) },
      },
      on: {
        ABORT: { actions: { type: "addVoid", params: ABORTED } },
        GUARD_OPENED: { actions: { type: "addVoid", params: GUARD_OPENED } },
        FAULT: { actions: "addEventReason" },
      },
    },
    testing: {
      initial: "ambient",
      on: {
        ABORT: { target: "safing", actions: { type: "addVoid", params: ABORTED } },
        GUARD_OPENED: { target: "safing", actions: { type: "addVoid", params: GUARD_OPENED } },
        FAULT: { target: "safing", actions: "addEventReason" },
        NEWEST: { actions: "keepNewest" },
      },
      states: {
        ambient: {
          invoke: {
            src: "readAmbient",
            onDone: {
              target: "next",
              actions: assign({
                evidence: ({ context, event }) => ({ ...context.evidence, ambient: event.output }),
              }),
            },
            onError: {
              target: "#unit.safing",
              actions: { type: "addVoid", params: ({ event }) => instrumentFault(event.error) },
            },
          },
        },
        next: {
          always: [
            { guard: "noStepLeft", target: "#unit.recording" },
            { guard: "isLeakStep", target: "leak" },
            { target: "airflow" },
          ],
        },
        leak: {
          initial: "fill",
          states: {
            fill: {
              entry: { type: "startPhase", params: { name: "fill" } },
              exit: "endPhase",
              invoke: [
                commandInvoke(() => ({ source: true, isolate: true, vent: false, motor: false })),
                observeInvoke((context) => {
                  const { testPressure_Pa, fillTolerance_Pa } = leakStep(context);
                  return { watch: "fill", target_Pa: testPressure_Pa, tolerance_Pa: fillTolerance_Pa };
                }),
              ],
              on: { OUTCOME: { target: "settle" } },
              after: {
                fillLongest: [
                  {
                    guard: "sourceHealthy",
                    target: "gross",
                    actions: {
                      type: "addFail",
                      params: {
                        code: "GROSS_LEAK",
                        sentence:
                          "The unit could not be brought to test pressure although the source is healthy: look for a missing gasket, a lid not seated or a crack.",
                      },
                    },
                  },
                  {
                    target: "#unit.safing",
                    actions: {
                      type: "addVoid",
                      params: {
                        code: "SOURCE_FAULT",
                        sentence:
                          "The source did not hold its pressure while filling. Check the regulator and the supply line, then acknowledge.",
                      },
                    },
                  },
                ],
              },
            },
            gross: {
              entry: { type: "startPhase", params: { name: "gross" } },
              exit: "endPhase",
              invoke: [
                commandInvoke(() => ({ source: false, isolate: false })),
                observeInvoke((context) => ({
                  watch: "curve",
                  origin_s: context.evidence.start_s,
                  duration_s: GROSS_ESTIMATE_S,
                })),
              ],
              on: { OUTCOME: { target: "vent", actions: { type: "keepCurve", params: { as: "gross" } } } },
              after: { grossLongest: phaseSilent() },
            },
            settle: {
              entry: { type: "startPhase", params: { name: "settle" } },
              exit: "endPhase",
              invoke: [
                commandInvoke(() => ({ source: false, isolate: false })),
                observeInvoke((context) => ({
                  watch: "curve",
                  origin_s: context.evidence.start_s,
                  duration_s: leakStep(context).settle_s,
                })),
              ],
              on: {
                OUTCOME: { target: "measure", actions: { type: "keepCurve", params: { as: "settle" } } },
              },
              after: { settle: phaseSilent() },
            },
            measure: {
              entry: { type: "startPhase", params: { name: "measure" } },
              exit: "endPhase",
              invoke: observeInvoke((context) => ({
                watch: "curve",
                origin_s: context.evidence.start_s,
                duration_s: leakStep(context).measureLongest_s,
              })),
              on: { OUTCOME: { target: "vent", actions: { type: "keepCurve", params: { as: "measure" } } } },
              after: { measureLongest: phaseSilent() },
            },
            vent: {
              entry: { type: "startPhase", params: { name: "vent" } },
              exit: "endPhase",
              invoke: [
                commandInvoke(() => SAFE_LEVELS),
                observeInvoke((context) => ({
                  watch: "vented",
                  within_Pa: leakStep(context).ventedWithin_Pa,
                })),
              ],
              on: {
                OUTCOME: [
                  { guard: "stopsHere", target: "#unit.recording" },
                  { target: "#unit.testing.next", actions: "nextStep" },
                ],
              },
              after: {
                ventLongest: {
                  target: "#unit.safing",
                  actions: { type: "addVoid", params: VENT_NOT_COMPLETED },
                },
              },
            },
          },
        },
        airflow: {
          initial: "runUp",
          states: {
            runUp: {
              entry: { type: "startPhase", params: { name: "run_up" } },
              exit: "endPhase",
              invoke: [
                commandInvoke((context) => ({
                  ...orificeLevels(context),
                  vent: true,
                  isolate: false,
                  source: false,
                  motor: true,
                })),
                observeInvoke((context) => steadyOrder(context, 0)),
              ],
              on: { OUTCOME: { target: "hold" } },
              after: {
                runUpLongest: [
                  {
                    guard: "motorDraws",
                    target: "#unit.safing",
                    actions: { type: "addVoid", params: NOT_STEADY },
                  },
                  {
                    target: "coast",
                    actions: {
                      type: "addFail",
                      params: {
                        code: "MOTOR_DID_NOT_START",
                        sentence:
                          "The motor did not start although the supply is there: look at the plug, the switch and the motor.",
                      },
                    },
                  },
                ],
              },
            },
            hold: {
              entry: { type: "startPhase", params: { name: "hold" } },
              exit: "endPhase",
              invoke: [
                commandInvoke((context) => orificeLevels(context)),
                observeInvoke((context) => steadyOrder(context, airflowPoint(context).samples)),
              ],
              on: {
                OUTCOME: [
                  { guard: "pointsLeft", target: "hold", reenter: true, actions: ["keepPoint", "nextPoint"] },
                  { target: "coast", actions: "keepPoint" },
                ],
              },
              after: {
                holdLongest: { target: "#unit.safing", actions: { type: "addVoid", params: NOT_STEADY } },
              },
            },
            coast: {
              entry: { type: "startPhase", params: { name: "coast" } },
              exit: "endPhase",
              invoke: [
                commandInvoke((context) => ({ ...allOrificesShut(context), ...SAFE_LEVELS })),
                observeInvoke((context) => ({
                  watch: "stopped",
                  below_W: airflowStep(context).runningAbove_W,
                })),
              ],
              on: { OUTCOME: { target: "#unit.testing.next", actions: "nextStep" } },
              after: {
                coastLongest: {
                  target: "#unit.safing",
                  actions: { type: "addVoid", params: MOTOR_STILL_RUNNING },
                },
              },
            },
          },
        },
      },
    },
    /** Every abnormal way out. Safe outputs are commanded first; the wait only finds out whether they took. */
    safing: {
      initial: "commanding",
      on: { FAULT: { actions: "addEventReason" } },
      states: {
        commanding: {
          invoke: {
            src: "command",
            input: ({ context }) => ({ ...allOrificesShut(context), ...SAFE_LEVELS }),
            onDone: "seeing",
            onError: {
              target: "#unit.recording",
              actions: { type: "addVoid", params: ({ event }) => outputFault(event.error) },
            },
          },
        },
        seeing: {
          invoke: observeInvoke((context) => ({ watch: "vented", within_Pa: ventedWithin(context) })),
          on: {
            OUTCOME: [{ guard: "hasMotor", target: "stopping" }, { target: "#unit.recording" }],
            FAULT: { target: "#unit.recording", actions: "addEventReason" },
          },
          after: {
            safeSeenWithin: {
              target: "#unit.recording",
              actions: { type: "addVoid", params: VENT_NOT_COMPLETED },
            },
          },
        },
        stopping: {
          invoke: observeInvoke((context) => ({ watch: "stopped", below_W: runningAbove(context) })),
          on: {
            OUTCOME: { target: "#unit.recording" },
            FAULT: { target: "#unit.recording", actions: "addEventReason" },
          },
          after: {
            safeSeenWithin: {
              target: "#unit.recording",
              actions: { type: "addVoid", params: MOTOR_STILL_RUNNING },
            },
          },
        },
      },
    },
    recording: {
      invoke: {
        src: "record",
        input: ({ context }) => ({ attempt: context.attempt, evidence: context.evidence }),
        onDone: { target: "recorded", actions: assign({ recorded: ({ event }) => event.output }) },
        onError: { target: "notRecorded", actions: assign({ error: ({ event }) => event.error }) },
      },
    },
    recorded: { type: "final" },
    notRecorded: { type: "final" },
  },
});

function commandInvoke(levels: (context: UnitContext) => Levels) {
  return {
    src: "command" as const,
    input: ({ context }: { context: UnitContext }) => levels(context),
    onError: {
      target: "#unit.safing",
      actions: {
        type: "addVoid" as const,
        params: ({ event }: { event: { error: unknown } }) => outputFault(event.error),
      },
    },
  };
}

function observeInvoke(order: (context: UnitContext) => Observation) {
  return { src: "observe" as const, input: ({ context }: { context: UnitContext }) => order(context) };
}

function phaseSilent() {
  return {
    target: "#unit.safing",
    actions: {
      type: "addVoid" as const,
      params: {
        code: "PHASE_SILENT",
        sentence: "The leak gauge stopped sending readings. Check its cable and supply, then acknowledge.",
      } satisfies Reason as Reason,
    },
  };
}

function steadyOrder(context: UnitContext, samples: number): Observation {
  const step = airflowStep(context);
  return {
    watch: "steady",
    within: step.steadyWithin,
    window_s: step.steadyWindow_s,
    samples,
    runningAbove_W: step.runningAbove_W,
    supplyVoltage_V: step.supplyVoltage_V,
    supplyTolerance_V: step.supplyTolerance_V,
  };
}

function orificeLevels(context: UnitContext): Levels {
  const output = context.orificeOutputs.get(airflowPoint(context).orifice);
  return { ...allOrificesShut(context), ...(output ? { [output]: true } : {}) };
}

function allOrificesShut(context: UnitContext): Levels {
  const levels: Record<string, boolean> = {};
  for (const output of context.orificeOutputs.values()) if (output) levels[output] = false;
  return levels;
}

/** Reference pieces are bodies without a motor: only the leak steps are run on them. */
function stepsOf({ limits, reference }: PreparedAttempt): readonly Step[] {
  return reference ? limits.steps.filter((step) => step.kind === "leak") : limits.steps;
}

function currentStep(context: UnitContext): Step {
  const step = context.steps[context.stepIndex];
  if (!step) throw new Error(`There is no step ${context.stepIndex}.`);
  return step;
}

function leakStep(context: UnitContext): LeakStep {
  const step = currentStep(context);
  if (step.kind !== "leak") throw new Error(`Step ${step.name} is not a leak step.`);
  return step;
}

function airflowStep(context: UnitContext): AirflowStep {
  const step = currentStep(context);
  if (step.kind !== "airflow") throw new Error(`Step ${step.name} is not an airflow step.`);
  return step;
}

function airflowPoint(context: UnitContext): AirflowPoint {
  const point = airflowStep(context).points[context.pointIndex];
  if (!point) throw new Error(`Step ${airflowStep(context).name} has no point ${context.pointIndex}.`);
  return point;
}

/** Any leak step's tolerance serves to see that the fixture has vented; without one, 200 Pa (a tenth of the smallest test pressures in use). */
function ventedWithin(context: UnitContext): number {
  const step = context.steps.find((candidate) => candidate.kind === "leak");
  return step?.kind === "leak" ? step.ventedWithin_Pa : 200;
}

function runningAbove(context: UnitContext): number {
  const step = context.steps.find((candidate) => candidate.kind === "airflow");
  return step?.kind === "airflow" ? step.runningAbove_W : 0;
}

function instrumentFault(error: unknown): Reason {
  return {
    code: "INSTRUMENT_FAULT",
    sentence: `${messageOf(error)} Check its cable and supply, then acknowledge.`,
  };
}

function outputFault(error: unknown): Reason {
  return {
    code: "OUTPUT_FAULT",
    sentence: `The I/O block did not confirm its outputs: ${messageOf(error)} Treat the fixture as live, make it safe by hand by the local procedure, then acknowledge.`,
  };
}

/** An instrument that is gone says so to everybody who asks. */
function isKnown(reason: Reason, reasons: readonly Reason[]): boolean {
  return reasons.some((it) => it.code === reason.code && it.sentence === reason.sentence);
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
