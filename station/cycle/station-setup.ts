import { assign, emit, fromPromise, setup } from "xstate";
import type { Clock } from "../../drivers/ports.ts";
import { NOBODY, type SignedIn } from "../people/person.ts";
import { withPerson } from "./armed-attempt.ts";
import type { PreparedAttempt } from "./attempt.ts";
import type { Reason } from "./reason.ts";
import type { Scan } from "./scan.ts";
import { refuseAcknowledge, refusedBecause, refuseIncomplete } from "./station-reasons.ts";
import type { UnitInput, UnitOutput } from "./unit-context.ts";
import { unitMachine } from "./unit-machine.ts";

export type Identified =
  | { readonly kind: "prepared"; readonly attempt: PreparedAttempt }
  | { readonly kind: "refused"; readonly reasons: readonly Reason[] };

/** Asked again at the moment of starting: what was true at the scan may not be true any more. */
export type StartAnswer =
  | { readonly kind: "start"; readonly attempt: PreparedAttempt }
  /** Mended at the fixture, or by one more scan: the unit stays armed. */
  | { readonly kind: "not_yet"; readonly attempt: PreparedAttempt; readonly reasons: readonly Reason[] }
  | { readonly kind: "refused"; readonly reasons: readonly Reason[] };

export type StationEvent =
  | { readonly type: "SIGN_IN"; readonly who: SignedIn }
  | { readonly type: "SIGN_OUT" }
  | ({ readonly type: "SCAN" } & Scan)
  /** Tracked parts of the armed unit, scanned after its serial. */
  | { readonly type: "PART"; readonly parts: Readonly<Record<string, string>> }
  /** Why the armed unit is tested again: index of the reasons it is asked for. */
  | { readonly type: "REASON"; readonly index: number }
  | { readonly type: "START" }
  | { readonly type: "ABORT"; readonly reason: Reason }
  | { readonly type: "GUARD_OPENED" }
  | { readonly type: "FAULT"; readonly reason: Reason }
  | { readonly type: "ACKNOWLEDGE" };

/** What the station tells whoever shows or logs it. */
export type StationNews =
  | { readonly type: "signed_in"; readonly who: SignedIn; readonly before: SignedIn | null }
  | { readonly type: "signed_out"; readonly who: SignedIn }
  | { readonly type: "refused"; readonly serial: string; readonly reasons: readonly Reason[] }
  /** Told again whenever the armed attempt has changed. */
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
    | "gaugeUncertainty"
    | "flowChannel"
  > {
  readonly clock: Pick<Clock, "now_s" | "wall_ms">;
  /** Whether people sign in here against a people file: some stops are then for an engineer or a supervisor. */
  readonly signsPeopleIn: boolean;
  /** Whether a reference check is in force now. */
  readonly referenceInForce: () => boolean;
  /** What the attempt just recorded means for the station, beyond its own faults; no reasons: go on. */
  readonly stopsAfter: () => readonly Reason[];
}

export interface StationContext extends StationInput {
  /** Null while nobody is signed in; NOBODY is somebody, at a station without sign-in. */
  readonly who: SignedIn | null;
  readonly scanned: Scan | null;
  readonly attempt: PreparedAttempt | null;
  readonly faults: readonly Reason[];
  /** Raised while the station was recovering from the ones before. */
  readonly faultsSince: readonly Reason[];
}

/** What these are refused for concerns whoever is at the station, and no unit. */
const OF_NO_UNIT: ReadonlySet<StationEvent["type"]> = new Set(["SIGN_IN", "SIGN_OUT", "ACKNOWLEDGE"]);

function unwired(name: string): never {
  throw new Error(`The station machine's actor "${name}" is not wired.`);
}

/** The station machine's actors, guards and actions; its states are in station-machine.ts. */
export const stationSetup = setup({
  types: {
    input: {} as StationInput,
    context: {} as StationContext,
    events: {} as StationEvent,
    emitted: {} as StationNews,
  },
  actors: {
    /** Which unit or reference piece this is, and whether it may be tested now. */
    identify: fromPromise<Identified, { scan: Scan; who: SignedIn }>(async () => unwired("identify")),
    /** Whether the armed attempt may start at this very moment. */
    checkStart: fromPromise<StartAnswer, PreparedAttempt>(async () => unwired("checkStart")),
    unit: unitMachine,
    /** Fresh connections to everything and safe outputs; what was left unwritten is written. */
    recover: fromPromise<void>(async () => unwired("recover")),
  },
  guards: {
    isSignedIn: ({ context }) => context.who !== null,
    referenceInForce: ({ context }) => context.referenceInForce(),
    isIncomplete: ({ context }) => refuseIncomplete(armedOf(context)).length > 0,
    mayAcknowledge: ({ context }) => refusedAcknowledging(context).length === 0,
    isFaultedSince: ({ context }) => context.faultsSince.length > 0,
  },
  actions: {
    refuse: emit(({ context, event }, params: { reasons: readonly Reason[] }) => ({
      type: "refused" as const,
      serial: event.type === "SCAN" ? event.serial : OF_NO_UNIT.has(event.type) ? "" : serialOf(context),
      reasons: params.reasons,
    })),
    refuseFaulted: emit(({ context, event }) => ({
      type: "refused" as const,
      serial: event.type === "SCAN" ? event.serial : "",
      reasons: context.faults.map(refusedBecause),
    })),
    keepScan: assign(({ event }) => (event.type === "SCAN" ? { scanned: scanOf(event), attempt: null } : {})),
    addFault: assign(({ context, event }) =>
      event.type === "FAULT" ? { faults: [...context.faults, event.reason] } : {},
    ),
    addFaultSince: assign(({ context, event }) =>
      event.type === "FAULT" ? { faultsSince: [...context.faultsSince, event.reason] } : {},
    ),
    tellFaults: emit(({ context }) => ({ type: "faulted" as const, reasons: context.faults })),
    tellRecovered: emit({ type: "recovered" as const }),
    tellArmed: emit(({ context }) => ({ type: "armed" as const, attempt: armedOf(context) })),
    tellSignedIn: emit(({ context, event }) => ({
      type: "signed_in" as const,
      who: event.type === "SIGN_IN" ? event.who : NOBODY,
      before: context.who,
    })),
    tellSignedOut: emit(({ context }) => ({ type: "signed_out" as const, who: context.who ?? NOBODY })),
    keepPerson: assign(({ context, event }) =>
      event.type === "SIGN_IN"
        ? { who: event.who, attempt: context.attempt && withPerson(context.attempt, event.who) }
        : {},
    ),
    forgetPerson: assign({ who: null, scanned: null, attempt: null }),
  },
});

/** @throws Error in a state without a unit */
export function armedOf({ attempt }: StationContext): PreparedAttempt {
  if (!attempt) throw new Error("No unit is armed.");
  return attempt;
}

/** @returns why whoever is at the station may not acknowledge what stopped it; empty: they may */
export function refusedAcknowledging({ who, faults, signsPeopleIn }: StationContext): readonly Reason[] {
  return refuseAcknowledge(faults, { role: who?.role ?? null, isSignedIn: who !== null, signsPeopleIn });
}

function serialOf({ attempt, scanned }: StationContext): string {
  return attempt?.serial ?? scanned?.serial ?? "";
}

function scanOf({ type: _, ...scan }: Scan & { readonly type: "SCAN" }): Scan {
  return scan;
}
