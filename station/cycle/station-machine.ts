import { assign, emit, forwardTo, fromPromise, setup } from "xstate";
import type { Clock } from "../../drivers/ports.ts";
import { NOBODY, type SignedIn } from "../people/person.ts";
import type { PreparedAttempt } from "./attempt.ts";
import { type Reason, stopsStation } from "./reason.ts";
import type { UnitInput, UnitOutput } from "./unit-context.ts";
import { unitMachine } from "./unit-machine.ts";

export interface Scan {
  readonly serial: string;
  readonly parts: Readonly<Record<string, string>>;
  /** What is wrong with the scanned line itself, whatever unit it means. */
  readonly misread?: readonly Reason[];
}

export type Identified =
  | { readonly kind: "prepared"; readonly attempt: PreparedAttempt }
  | { readonly kind: "refused"; readonly reasons: readonly Reason[] };

export type StationEvent =
  | { readonly type: "SIGN_IN"; readonly who: SignedIn }
  | { readonly type: "SIGN_OUT" }
  | ({ readonly type: "SCAN" } & Scan)
  | { readonly type: "START" }
  | { readonly type: "ABORT"; readonly reason: Reason }
  | { readonly type: "GUARD_OPENED" }
  | { readonly type: "FAULT"; readonly reason: Reason }
  | { readonly type: "ACKNOWLEDGE" };

/** What the station tells whoever shows or logs it. */
export type StationNews =
  | { readonly type: "refused"; readonly serial: string; readonly reasons: readonly Reason[] }
  | { readonly type: "armed"; readonly attempt: PreparedAttempt }
  | { readonly type: "started"; readonly attempt: PreparedAttempt }
  | { readonly type: "finished"; readonly attempt: PreparedAttempt; readonly output: UnitOutput }
  | { readonly type: "faulted"; readonly reasons: readonly Reason[] }
  | { readonly type: "recovered" };

export interface StationInput
  extends Pick<
    UnitInput,
    | "orificeOutputs"
    | "stepConforms"
    | "newLook"
    | "newestPressure_Pa"
    | "motorStoodStill"
    | "scatterFloor"
    | "flowChannel"
  > {
  readonly clock: Pick<Clock, "now_s" | "wall_ms">;
  /** Whether a reference check is in force now. */
  readonly referenceInForce: () => boolean;
}

interface StationContext extends StationInput {
  readonly who: SignedIn;
  readonly scanned: Scan | null;
  readonly attempt: PreparedAttempt | null;
  readonly faults: readonly Reason[];
}

const BUSY: Reason = {
  code: "BUSY",
  sentence: "A unit is being tested. Wait for its verdict, then scan again.",
};
const CALLED_OFF: Reason = {
  code: "ABORTED",
  sentence: "The start was called off. Scan the unit again to test it.",
};
const GUARD_OPENED: Reason = {
  code: "GUARD_OPEN",
  sentence: "The guard was opened before the start. Close it, then start.",
};
const NOT_SIGNED_IN: Reason = { code: "NOT_SIGNED_IN", sentence: "Nobody is signed in. Sign in first." };

function unwired(name: string): never {
  throw new Error(`The station machine's actor "${name}" is not wired.`);
}

/**
 * The station around the unit: who may start what, and when it must stop. A fault leaves the outputs safe (the unit's
 * machine, or this one's own recovery, commands it) and nothing starts until it has been acknowledged.
 */
export const stationMachine = setup({
  types: {
    input: {} as StationInput,
    context: {} as StationContext,
    events: {} as StationEvent,
    emitted: {} as StationNews,
  },
  actors: {
    /** Which unit or reference piece this is, and whether it may be tested now. */
    identify: fromPromise<Identified, { scan: Scan; who: SignedIn }>(async () => unwired("identify")),
    /** What only shows at the moment of starting: guard, pressure, disk. No reasons: start. */
    checkStart: fromPromise<readonly Reason[], PreparedAttempt>(async () => unwired("checkStart")),
    unit: unitMachine,
    /** Fresh connections to everything and safe outputs. */
    recover: fromPromise<void>(async () => unwired("recover")),
  },
  guards: {
    referenceInForce: ({ context }) => context.referenceInForce(),
  },
  actions: {
    refuse: emit(({ context }, params: { reasons: readonly Reason[]; serial?: string }) => ({
      type: "refused" as const,
      serial: params.serial ?? context.scanned?.serial ?? "",
      reasons: params.reasons,
    })),
    refuseScan: emit(({ event }, params: { reasons: readonly Reason[] }) => ({
      type: "refused" as const,
      serial: event.type === "SCAN" ? event.serial : "",
      reasons: params.reasons,
    })),
    keepScan: assign(({ event }) => (event.type === "SCAN" ? { scanned: scanOf(event), attempt: null } : {})),
    addFault: assign(({ context, event }) =>
      event.type === "FAULT" ? { faults: [...context.faults, event.reason] } : {},
    ),
    tellFaults: emit(({ context }) => ({ type: "faulted" as const, reasons: context.faults })),
    tellRecovered: emit({ type: "recovered" as const }),
  },
}).createMachine({
  id: "station",
  context: ({ input }) => ({ ...input, who: NOBODY, scanned: null, attempt: null, faults: [] }),
  initial: "signedOut",
  states: {
    signedOut: {
      on: {
        SIGN_IN: { target: "waiting", actions: assign({ who: ({ event }) => event.who }) },
        SCAN: { actions: { type: "refuseScan", params: { reasons: [NOT_SIGNED_IN] } } },
        FAULT: { target: "faulted", actions: "addFault" },
      },
    },
    /** Signed in; what may be scanned depends on the reference check. */
    waiting: {
      always: [{ guard: "referenceInForce", target: "ready" }, { target: "needsReference" }],
    },
    needsReference: { on: idleEvents() },
    ready: { on: idleEvents() },
    identifying: {
      invoke: {
        src: "identify",
        input: ({ context }) => ({ scan: context.scanned as Scan, who: context.who }),
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
            actions: assign({
              attempt: ({ event }) => (event.output.kind === "prepared" ? event.output.attempt : null),
            }),
          },
        ],
        onError: {
          target: "faulted",
          actions: assign({ faults: ({ event }) => [stationFault(event.error)] }),
        },
      },
      on: { FAULT: { target: "faulted", actions: "addFault" }, ABORT: calledOff(CALLED_OFF) },
    },
    /** The unit is known and allowed; the inspector presses start. Another scan changes the mind. */
    armed: {
      entry: emit(({ context }) => ({ type: "armed" as const, attempt: context.attempt as PreparedAttempt })),
      on: { ...idleEvents(), START: "checking", ABORT: calledOff(CALLED_OFF) },
    },
    checking: {
      invoke: {
        src: "checkStart",
        input: ({ context }) => context.attempt as PreparedAttempt,
        onDone: [
          { guard: ({ event }) => event.output.length === 0, target: "testing" },
          {
            target: "waiting",
            actions: { type: "refuse", params: ({ event }) => ({ reasons: event.output }) },
          },
        ],
        onError: {
          target: "faulted",
          actions: assign({ faults: ({ event }) => [stationFault(event.error)] }),
        },
      },
      on: {
        ABORT: calledOff(CALLED_OFF),
        GUARD_OPENED: calledOff(GUARD_OPENED),
        FAULT: { target: "faulted", actions: "addFault" },
        SCAN: { actions: { type: "refuseScan", params: { reasons: [BUSY] } } },
      },
    },
    testing: {
      invoke: {
        id: "unit",
        systemId: "unit",
        src: "unit",
        input: ({ context }): UnitInput => ({
          attempt: context.attempt as PreparedAttempt,
          clock: context.clock,
          orificeOutputs: context.orificeOutputs,
          stepConforms: context.stepConforms,
          newLook: context.newLook,
          newestPressure_Pa: context.newestPressure_Pa,
          motorStoodStill: context.motorStoodStill,
          scatterFloor: context.scatterFloor,
          flowChannel: context.flowChannel,
        }),
        onDone: [
          {
            guard: ({ event }) => stoppingReasons(event.output).length > 0,
            target: "faulted",
            actions: [
              emit(({ context, event }) => finished(context, event.output)),
              assign({ faults: ({ event }) => stoppingReasons(event.output) }),
            ],
          },
          { target: "waiting", actions: emit(({ context, event }) => finished(context, event.output)) },
        ],
        onError: {
          target: "faulted",
          actions: assign({ faults: ({ event }) => [stationFault(event.error)] }),
        },
      },
      entry: emit(({ context }) => ({
        type: "started" as const,
        attempt: context.attempt as PreparedAttempt,
      })),
      on: {
        ABORT: { actions: forwardTo("unit") },
        GUARD_OPENED: { actions: forwardTo("unit") },
        FAULT: { actions: forwardTo("unit") },
        SCAN: { actions: { type: "refuseScan", params: { reasons: [BUSY] } } },
      },
    },
    faulted: {
      entry: "tellFaults",
      on: {
        ACKNOWLEDGE: "recovering",
        SCAN: {
          actions: {
            type: "refuseScan",
            params: ({ context }) => ({ reasons: context.faults.map(refusedBecause) }),
          },
        },
        FAULT: { actions: "addFault" },
      },
    },
    recovering: {
      invoke: {
        src: "recover",
        onDone: { target: "waiting", actions: [assign({ faults: [] }), "tellRecovered"] },
        onError: {
          target: "faulted",
          actions: assign({ faults: ({ event }) => [stationFault(event.error)] }),
        },
      },
      on: { SCAN: { actions: { type: "refuseScan", params: { reasons: [BUSY] } } } },
    },
  },
});

function scanOf({ type: _, ...scan }: Scan & { readonly type: "SCAN" }): Scan {
  return scan;
}

/** Nothing has moved yet: the attempt has not begun and leaves no record. */
function calledOff(reason: Reason) {
  return { target: "waiting" as const, actions: { type: "refuse" as const, params: { reasons: [reason] } } };
}

function idleEvents() {
  return {
    SCAN: { target: "identifying" as const, actions: "keepScan" as const },
    SIGN_OUT: {
      target: "signedOut" as const,
      actions: assign<StationContext, StationEvent, undefined, StationEvent, never>({
        who: NOBODY,
        attempt: null,
      }),
    },
    FAULT: { target: "faulted" as const, actions: "addFault" as const },
  };
}

function finished(context: StationContext, output: UnitOutput) {
  return { type: "finished" as const, attempt: context.attempt as PreparedAttempt, output };
}

function stoppingReasons(output: UnitOutput): readonly Reason[] {
  if (output.kind === "not_recorded") {
    const sentence = `No traveller could be written, so this unit has no verdict. ${stationFault(output.error).sentence}`;
    return [{ code: "RECORD_NOT_WRITTEN", sentence }];
  }
  return output.evidence.voids.filter(stopsStation);
}

function refusedBecause(fault: Reason): Reason {
  return { code: "STATION_FAULTED", sentence: `The station is stopped: ${fault.sentence}` };
}

function stationFault(error: unknown): Reason {
  if (isReason(error)) return error;
  const message = error instanceof Error ? error.message : String(error);
  return { code: "INSTRUMENT_FAULT", sentence: message };
}

function isReason(error: unknown): error is Reason {
  return (
    typeof error === "object" &&
    error !== null &&
    "code" in error &&
    "sentence" in error &&
    !(error instanceof Error)
  );
}
