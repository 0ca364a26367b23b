import { assign } from "xstate";
import { airflowStates } from "./airflow-states.ts";
import { leakStates } from "./leak-states.ts";
import type { Reason } from "./reason.ts";
import { stepsOf, stoppedBelow, ventedWithin } from "./unit-context.ts";
import { allOrificesShut, SAFE_LEVELS } from "./unit-orders.ts";
import {
  GUARD_OPENED,
  instrumentFault,
  MOTOR_STILL_RUNNING,
  outputFault,
  SAFE_NOT_SEEN,
  VENT_NOT_COMPLETED,
} from "./unit-reasons.ts";
import { observeInvoke, unitSetup } from "./unit-setup.ts";

/** Safe outputs stand commanded by then; a fault only means that nobody sees whether they took. */
const NOT_SEEN_SAFE = {
  FAULT: { target: "#unit.recording", actions: "addEventReason" },
  ABORT: {
    guard: "programStops",
    target: "#unit.recording",
    actions: ["addEventReason", { type: "addVoid", params: SAFE_NOT_SEEN }],
  },
} as const;

/**
 * One attempt on one unit: opens the attempt, runs the limit file's steps phase by phase, makes the fixture safe,
 * records. It commands and waits through its actors only; time is the clock it is started with.
 */
export const unitMachine = unitSetup.createMachine({
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
    sourceAtRest_Pa: null,
    sourceShut: null,
    ventShut_Pa: null,
    runUp: [],
    ventFrom: null,
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
        leak: leakStates,
        airflow: airflowStates,
      },
    },
    /** Every abnormal way out. Safe outputs are commanded first; the wait only finds out whether they took. */
    safing: {
      initial: "commanding",
      entry: "startSafing",
      on: {
        FAULT: { actions: "addEventReason" },
        ABORT: { guard: "programStops", actions: "addEventReason" },
      },
      states: {
        commanding: {
          invoke: {
            src: "command",
            input: ({ context }) => ({ ...allOrificesShut(context), ...SAFE_LEVELS }),
            onDone: "seeing",
            onError: {
              target: "#unit.recording",
              actions: {
                type: "addVoid",
                params: ({ context, event }) => outputFault(event.error, context.evidence.voids),
              },
            },
          },
        },
        seeing: {
          invoke: observeInvoke((context) => ({ watch: "vented", within_Pa: ventedWithin(context) })),
          on: {
            OUTCOME: [
              { guard: "hasMotor", target: "stopping", actions: "addSafingFinding" },
              { target: "#unit.recording", actions: "addSafingFinding" },
            ],
            ...NOT_SEEN_SAFE,
          },
          after: { safeSeenWithin: unsafe(VENT_NOT_COMPLETED) },
        },
        stopping: {
          invoke: observeInvoke((context) => ({ watch: "stopped", below_W: stoppedBelow(context) })),
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

/** What was not seen in time; a program that is to end has not waited for it. */
function unsafe(reason: Reason) {
  const recordedWith = (params: Reason) => ({
    target: "#unit.recording",
    actions: { type: "addVoid" as const, params },
  });
  return [{ guard: "programStopped" as const, ...recordedWith(SAFE_NOT_SEEN) }, recordedWith(reason)];
}
