import { assign, emit, forwardTo } from "xstate";
import type { SignedIn } from "../people/person.ts";
import { withParts, withRetestReason } from "./armed-attempt.ts";
import { type Reason, stopsStation } from "./reason.ts";
import type { Scan } from "./scan.ts";
import {
  A_MOMENT,
  BUSY,
  BUSY_NO_CHANGE,
  CALLED_OFF,
  GUARD_OPENED_BEFORE,
  NO_UNIT,
  NOT_SIGNED_IN,
  noSuchReason,
  notRecorded,
  refuseIncomplete,
  refuseNewParts,
  stationFault,
} from "./station-reasons.ts";
import {
  armedOf,
  refusedAcknowledging,
  type StationContext,
  type StationEvent,
  stationSetup,
} from "./station-setup.ts";
import type { UnitInput, UnitOutput } from "./unit-context.ts";
import { isKnown } from "./unit-reasons.ts";

/**
 * The station around the unit: who may start what, and when it must stop. A fault leaves the outputs safe (the unit's
 * machine, or this one's own recovery, commands it) and nothing starts until it has been acknowledged.
 */
export const stationMachine = stationSetup.createMachine({
  id: "station",
  context: ({ input }) => ({
    ...input,
    who: null,
    scanned: null,
    attempt: null,
    faults: [],
    faultsSince: [],
  }),
  initial: "signedOut",
  on: {
    // What a state does not say otherwise: nothing is lost, nothing starts, and whoever did it hears why.
    SCAN: refuse(A_MOMENT),
    PART: refuse(NO_UNIT),
    REASON: refuse(NO_UNIT),
    SIGN_IN: refuse(A_MOMENT),
    SIGN_OUT: refuse(A_MOMENT),
    FAULT: { target: ".faulted", actions: "addFault" },
  },
  states: {
    signedOut: {
      on: {
        SIGN_IN: { target: "waiting", actions: ["tellSignedIn", "keepPerson"] },
        SIGN_OUT: {},
        SCAN: refuse(NOT_SIGNED_IN),
        PART: refuse(NOT_SIGNED_IN),
        REASON: refuse(NOT_SIGNED_IN),
      },
    },
    /** What may be scanned depends on who is there and on the reference check. */
    waiting: {
      entry: assign({ attempt: null }),
      always: [{ guard: "isSignedIn", target: "signedIn" }, { target: "signedOut" }],
    },
    signedIn: { always: [{ guard: "referenceInForce", target: "ready" }, { target: "needsReference" }] },
    needsReference: { on: idleEvents() },
    ready: { on: idleEvents() },
    identifying: {
      invoke: {
        src: "identify",
        input: ({ context }) => ({ scan: context.scanned as Scan, who: context.who as SignedIn }),
        onDone: [
          {
            guard: ({ event }) => event.output.kind === "refused",
            target: "waiting",
            actions: {
              type: "refuse",
              params: ({ event }) => ({
                reasons: event.output.kind === "refused" ? event.output.reasons : [],
              }),
            },
          },
          {
            target: "armed",
            actions: [
              assign({
                attempt: ({ event }) => (event.output.kind === "prepared" ? event.output.attempt : null),
              }),
              "tellArmed",
            ],
          },
        ],
        onError: stopped(),
      },
      on: { ABORT: calledOff(CALLED_OFF) },
    },
    /** The unit is known and allowed; the inspector presses start. Another scan changes the mind. */
    armed: {
      on: {
        ...idleEvents(),
        SIGN_IN: { actions: ["tellSignedIn", "keepPerson", "tellArmed"] },
        PART: [
          {
            guard: ({ context, event }) => refuseNewParts(armedOf(context), event.parts).length > 0,
            actions: {
              type: "refuse",
              params: ({ context, event }) => ({ reasons: refuseNewParts(armedOf(context), event.parts) }),
            },
          },
          {
            actions: [
              assign({ attempt: ({ context, event }) => withParts(armedOf(context), event.parts) }),
              "tellArmed",
            ],
          },
        ],
        REASON: [
          {
            guard: ({ context, event }) => withRetestReason(armedOf(context), event.index) === null,
            actions: {
              type: "refuse",
              params: ({ context, event }) => ({ reasons: [noSuchReason(armedOf(context), event.index)] }),
            },
          },
          {
            actions: [
              assign({ attempt: ({ context, event }) => withRetestReason(armedOf(context), event.index) }),
              "tellArmed",
            ],
          },
        ],
        START: [
          {
            guard: "isIncomplete",
            actions: {
              type: "refuse",
              params: ({ context }) => ({ reasons: refuseIncomplete(armedOf(context)) }),
            },
          },
          { target: "checking" },
        ],
        ABORT: calledOff(CALLED_OFF),
      },
    },
    checking: {
      invoke: {
        src: "checkStart",
        input: ({ context }) => armedOf(context),
        onDone: [
          {
            guard: ({ event }) => event.output.kind === "start",
            target: "testing",
            actions: assign({
              attempt: ({ event }) => (event.output.kind === "start" ? event.output.attempt : null),
            }),
          },
          {
            guard: ({ event }) => event.output.kind === "not_yet",
            target: "armed",
            actions: [
              {
                type: "refuse",
                params: ({ event }) => ({
                  reasons: event.output.kind === "not_yet" ? event.output.reasons : [],
                }),
              },
              assign({
                attempt: ({ context, event }) =>
                  event.output.kind === "not_yet" ? event.output.attempt : context.attempt,
              }),
            ],
          },
          {
            target: "waiting",
            actions: {
              type: "refuse",
              params: ({ event }) => ({
                reasons: event.output.kind === "refused" ? event.output.reasons : [],
              }),
            },
          },
        ],
        onError: stopped(),
      },
      on: {
        ABORT: calledOff(CALLED_OFF),
        GUARD_OPENED: { target: "armed", ...refuse(GUARD_OPENED_BEFORE) },
        SCAN: refuse(BUSY),
        PART: refuse(BUSY),
        REASON: refuse(BUSY),
      },
    },
    testing: {
      invoke: {
        id: "unit",
        systemId: "unit",
        src: "unit",
        input: ({ context }): UnitInput => ({
          attempt: armedOf(context),
          clock: context.clock,
          orificeOutputs: context.orificeOutputs,
          stepConforms: context.stepConforms,
          newLook: context.newLook,
          newestPressure_Pa: context.newestPressure_Pa,
          motorStoodStill: context.motorStoodStill,
          scatterFloor: context.scatterFloor,
          gaugeUncertainty: context.gaugeUncertainty,
          flowChannel: context.flowChannel,
        }),
        onDone: {
          target: "finished",
          actions: [
            emit(({ context, event }) => ({
              type: "finished" as const,
              attempt: armedOf(context),
              output: event.output,
            })),
            assign({
              faults: ({ context, event }) => stoppingReasons(event.output, context),
            }),
          ],
        },
        onError: stopped(),
      },
      entry: emit(({ context }) => ({ type: "started" as const, attempt: armedOf(context) })),
      on: {
        ABORT: { actions: forwardTo("unit") },
        GUARD_OPENED: { actions: forwardTo("unit") },
        FAULT: { actions: forwardTo("unit") },
        SCAN: refuse(BUSY),
        PART: refuse(BUSY),
        REASON: refuse(BUSY),
        SIGN_IN: refuse(BUSY_NO_CHANGE),
        SIGN_OUT: refuse(BUSY_NO_CHANGE),
      },
    },
    /** The verdict has been told; then comes what it means for the station. */
    finished: {
      always: [
        { guard: ({ context }) => context.faults.length > 0, target: "faulted" },
        { target: "waiting" },
      ],
    },
    faulted: {
      entry: "tellFaults",
      on: {
        ACKNOWLEDGE: [
          { guard: "mayAcknowledge", target: "recovering" },
          {
            actions: {
              type: "refuse",
              params: ({ context }) => ({ reasons: refusedAcknowledging(context) }),
            },
          },
        ],
        SIGN_IN: { actions: ["tellSignedIn", "keepPerson"] },
        // Whoever has gone must not acknowledge; the stop stays.
        SIGN_OUT: [{ guard: "isSignedIn", actions: ["tellSignedOut", "forgetPerson"] }, {}],
        SCAN: { actions: "refuseFaulted" },
        PART: { actions: "refuseFaulted" },
        REASON: { actions: "refuseFaulted" },
        FAULT: [
          {
            guard: ({ context, event }) => !isKnown(event.reason, context.faults),
            actions: ["addFault", "tellFaults"],
          },
          // Told already; without this the event would reach the machine's own answer.
          {},
        ],
      },
    },
    recovering: {
      entry: assign({ faultsSince: [], attempt: null }),
      invoke: {
        src: "recover",
        onDone: [
          {
            guard: "isFaultedSince",
            target: "faulted",
            actions: assign({ faults: ({ context }) => context.faultsSince }),
          },
          { target: "waiting", actions: [assign({ faults: [] }), "tellRecovered"] },
        ],
        onError: stopped(),
      },
      on: { FAULT: { actions: "addFaultSince" } },
    },
  },
});

function refuse(reason: Reason) {
  return { actions: { type: "refuse" as const, params: { reasons: [reason] } } };
}

/** Nothing has moved yet: the attempt has not begun and leaves no record. */
function calledOff(reason: Reason) {
  return { target: "waiting" as const, ...refuse(reason) };
}

function stopped() {
  return {
    target: "faulted" as const,
    actions: assign<StationContext, { type: string; error: unknown }, undefined, StationEvent, never>({
      faults: ({ event }) => [stationFault(event.error)],
    }),
  };
}

function idleEvents() {
  return {
    SCAN: { target: "identifying" as const, actions: "keepScan" as const },
    SIGN_IN: { actions: ["tellSignedIn" as const, "keepPerson" as const] },
    SIGN_OUT: { target: "signedOut" as const, actions: ["tellSignedOut" as const, "forgetPerson" as const] },
  };
}

function stoppingReasons(output: UnitOutput, { stopsAfter }: StationContext): readonly Reason[] {
  if (output.kind === "not_recorded") return [notRecorded(output)];
  return [...output.evidence.voids.filter(stopsStation), ...stopsAfter()];
}
