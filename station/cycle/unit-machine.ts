import { assign, fromCallback, fromPromise, setup } from "xstate";
import type { Levels } from "../../drivers/ports.ts";
import type { Reason } from "./reason.ts";
import {
  type Ambient,
  type AttemptEvidence,
  airflowPoint,
  airflowStep,
  currentStep,
  leakStep,
  type PhaseName,
  type PhaseRecord,
  type Recorded,
  runningAbove,
  stepsOf,
  type UnitContext,
  type UnitEvent,
  type UnitInput,
  type UnitOutput,
  ventedWithin,
} from "./unit-context.ts";
import { allOrificesShut, orificeLevels, SAFE_LEVELS, steadyOrder } from "./unit-orders.ts";
import {
  GUARD_OPENED,
  instrumentFault,
  isKnown,
  MOTOR_STILL_RUNNING,
  NOT_STEADY,
  outputFault,
  PHASE_SILENT,
  VENT_NOT_COMPLETED,
} from "./unit-reasons.ts";
import type { Observation } from "./watchers.ts";

/** How long the safe state may take to be seen (pressure near ambient) before the fault says so. */
const SAFE_SEEN_WITHIN_MS = 10_000;
/** A curve is the stream's business; this much later than asked means the stream has stopped. */
const CURVE_GRACE_MS = 2_000;
/** A body that can't be filled empties fast: half a second shows how fast. */
const GROSS_ESTIMATE_S = 0.5;
/** A source below this part of the test pressure while filling is the source's fault, not the unit's. */
const SOURCE_HEALTHY_PART = 0.95;

function unwired(name: string): never {
  throw new Error(`The unit machine's actor "${name}" is not wired.`);
}

/** Safe outputs stand commanded by then; a fault only means that nobody sees whether they took. */
const NOT_SEEN_SAFE = { FAULT: { target: "#unit.recording", actions: "addEventReason" } } as const;

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
      if (event.type !== "FAULT" && event.type !== "ABORT") return {};
      if (isKnown(event.reason, context.evidence.voids)) return {};
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
        ABORT: { actions: "addEventReason" },
        GUARD_OPENED: { actions: { type: "addVoid", params: GUARD_OPENED } },
        FAULT: { actions: "addEventReason" },
      },
    },
    testing: {
      initial: "ambient",
      on: {
        ABORT: { target: "safing", actions: "addEventReason" },
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
              after: {
                grossLongest: { target: "#unit.safing", actions: { type: "addVoid", params: PHASE_SILENT } },
              },
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
              after: {
                settle: { target: "#unit.safing", actions: { type: "addVoid", params: PHASE_SILENT } },
              },
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
              after: {
                measureLongest: {
                  target: "#unit.safing",
                  actions: { type: "addVoid", params: PHASE_SILENT },
                },
              },
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
            ...NOT_SEEN_SAFE,
          },
          after: { safeSeenWithin: unsafe(VENT_NOT_COMPLETED) },
        },
        stopping: {
          invoke: observeInvoke((context) => ({ watch: "stopped", below_W: runningAbove(context) })),
          on: { OUTCOME: { target: "#unit.recording" }, ...NOT_SEEN_SAFE },
          after: { safeSeenWithin: unsafe(MOTOR_STILL_RUNNING) },
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

function unsafe(reason: Reason) {
  return { target: "#unit.recording", actions: { type: "addVoid" as const, params: reason } };
}

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
